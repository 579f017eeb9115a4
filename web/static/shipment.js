// The shipment page while boxes come in: follows what others read, sends scans and photos, keeps them without signal.
import { Waiting } from "./waiting.js";
import { follow } from "./follow.js";

const page = location.pathname;
const answer = document.getElementById("answer");
const signal = document.getElementById("signal");
document.documentElement.classList.add("scripted");

const state = { scans: 0, photos: 0, signal: navigator.onLine };

function tell() {
  const parts = [];
  if (state.scans) parts.push(`${state.scans} scan${state.scans === 1 ? "" : "s"}`);
  if (state.photos) parts.push(`${state.photos} photo${state.photos === 1 ? "" : "s"}`);
  const what = parts.join(" and ");
  signal.hidden = state.signal && !what;
  if (state.signal) signal.textContent = what && `Sending ${what} …`;
  else signal.textContent = what ? `No signal. ${what} kept on this phone; sent when it is back.` : "No signal. What you scan is kept on this phone.";
}

const live = follow(document.getElementById("live"), {
  onSignal(signal) {
    if (signal === state.signal) return;
    state.signal = signal;
    tell();
    if (signal) waiting.send();
  },
});

const waiting = new Waiting({
  onCount(scans, photos, offline) {
    Object.assign(state, { scans, photos, signal: !offline });
    tell();
  },
  onAnswer(record, html) {
    if (record.page === page && html) show(html);
    live.now();
  },
});

function show(html) {
  answer.innerHTML = html;
  const tone = answer.querySelector(".answer")?.classList;
  if (navigator.vibrate && tone && !tone.contains("here")) navigator.vibrate([80, 60, 80]);
}

function say(words, sentence) {
  const box = document.createElement("div");
  const big = document.createElement("p");
  const small = document.createElement("p");
  box.className = "answer plain";
  big.className = "big";
  big.textContent = words;
  small.textContent = sentence;
  box.append(big, small);
  answer.replaceChildren(box);
}

answer.addEventListener("click", (event) => {
  if (!event.target.closest(".close")) return;
  event.preventDefault();
  answer.replaceChildren();
  document.getElementById("text")?.focus({ preventScroll: true });
});

// UUID version 4 (RFC 9562); crypto.randomUUID exists only on secure origins, this service may run on plain HTTP.
function uuid() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

const scan = document.getElementById("scan");
const text = document.getElementById("text");

function stamp(form) {
  return { token: form.elements.token.value, place: form.elements.place.value, by: form.elements.by.value };
}

if (scan) {
  scan.elements.scan_id.value = uuid();
  scan.addEventListener("submit", async (event) => {
    event.preventDefault();
    const fields = { ...stamp(scan), text: text.value, scan_id: uuid(), source: typedByHand() ? "typed" : "scanner" };
    text.value = "";
    if (navigator.onLine && state.signal) say("Checking …", fields.text);
    else say("Kept", "It is sent when the signal is back.");
    await waiting.add({ kind: "scan", page, url: scan.action, fields });
  });

  // A wedge scanner types faster than a person: some 10 ms a key, where people need 60 and more.
  let times = [];
  text.addEventListener("keydown", (event) => {
    if (event.key.length === 1) times.push(event.timeStamp);
    // Scanners send the group separator as Ctrl+] (ASCII 29), which a field would drop.
    if (event.ctrlKey && (event.key === "]" || event.code === "BracketRight")) {
      event.preventDefault();
      text.setRangeText("\u001d", text.selectionStart, text.selectionEnd, "end");
    }
  });
  function typedByHand() {
    const gap = times.length > 1 ? (times.at(-1) - times[0]) / (times.length - 1) : Infinity;
    times = [];
    return gap > 35;
  }

  // What a scanner types anywhere but in a field goes into the scan field; its Enter must not press a button in focus.
  document.addEventListener("keydown", (event) => {
    const free = !event.target.closest("input, textarea, select");
    if (free && event.key.length === 1 && event.key !== " " && !event.metaKey && !event.altKey && !event.ctrlKey) text.focus({ preventScroll: true });
  });
}

const camera = document.getElementById("camera");
if (camera) {
  camera.addEventListener("submit", (event) => event.preventDefault());
  for (const input of camera.querySelectorAll("input[type=file]")) {
    input.addEventListener("change", async () => {
      const files = [...input.files];
      input.value = "";
      for (const file of files) {
        await waiting.add({ kind: "photo", page, url: camera.action, fields: stamp(camera), file, name: file.name || "photo.jpg" });
      }
      say(files.length === 1 ? "Photo kept" : `${files.length} photos kept`, "It is read in the background; go on.");
    });
  }
}
waiting.send();
// Without a signal right now the worker cannot be fetched; the next page that opens asks for it again.
navigator.serviceWorker?.register("/offline.js").catch(() => {});
