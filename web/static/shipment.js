// The shipment page while boxes come in: follows what others read, sends scans and photos, keeps them without signal.
import { Waiting } from "./waiting.js";
import { follow } from "./follow.js";

const page = location.pathname;
const answer = document.getElementById("answer");
const signal = document.getElementById("signal");
document.documentElement.classList.add("scripted");

const live = follow(document.getElementById("live"));

const waiting = new Waiting({
  onCount(scans, photos, offline) {
    const parts = [];
    if (scans) parts.push(`${scans} scan${scans === 1 ? "" : "s"}`);
    if (photos) parts.push(`${photos} photo${photos === 1 ? "" : "s"}`);
    signal.hidden = parts.length === 0;
    signal.textContent = offline
      ? `No signal. ${parts.join(" and ")} kept on this phone; sent when it is back.`
      : `Sending ${parts.join(" and ")} …`;
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
    await waiting.add({ kind: "scan", page, url: scan.action, fields });
    if (!navigator.onLine) say("Kept", "It is sent when the signal is back.");
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

  // What a scanner types anywhere on the page goes into the field.
  document.addEventListener("keydown", (event) => {
    const free = event.target === document.body || event.target.id === "main";
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
