// The shipment page while boxes come in: scans, photos, the answer to each, and what others do meanwhile.
import { follow } from "./follow.js";
import { openCamera } from "./camera.js";
import { outbox } from "./outbox.js";
import { isOurs } from "./ours.js";
import { matchOnPhone } from "./matching.js";
import { sheetOf } from "./keeping.js";
import { searchCartons } from "./search.js";
import { isSilent, setSilent, sound } from "./signals.js";
import { takeForms } from "./forms.js";
import { takePerson } from "./person.js";
import { takePlace } from "./place.js";
import { takeScans } from "./scanning.js";
import { WORDS, whyWords } from "./words.js";

const SHOWN_MS = 8000;
const CROP_MS = 15_000;
const answer = document.getElementById("answer");
const address = document.getElementById("live").dataset.state.replace(/\/state$/, "");
const shipment = address.replace(/^.*\/s\//, "");
document.documentElement.classList.add("scripted");

const live = follow(document.getElementById("live"), { onSignal: (there) => there && outbox.why === "signal" && outbox.wake() });
let shown = ""; // the id of the action or read whose answer is shown

takeForms({
  async told(form, _record, settled) {
    if (!form.closest("#answer, #live") || settled?.state === "refused") return false;
    if (settled?.state !== "done") return false;
    const read = settled.fields.find(([name]) => name === "read_id")?.[1] ?? new URL(settled.answer.location, location.href).searchParams.get("answer")
      ?? (form.closest("#answer") ? shown : "");
    live.now();
    if (read && (form.closest("#answer") || settled.kind === "answer")) await showRead(read);
    return true;
  },
});

// Shows what a read is now, after something was said of it.
async function showRead(read) {
  try {
    const response = await fetch(`${address}/answers/${encodeURIComponent(read)}`, { redirect: "manual", cache: "no-store" });
    if (isOurs(response)) put(read, await response.json());
  } catch { /* no signal: the answer that is shown is the last one known */ }
}

function put(id, { html, answer: facts }) {
  shown = facts?.read_id || id;
  answer.innerHTML = html; // made by our server, which named this very action or read
  leave();
  return facts;
}

function say(words, sentence, tone = "plain") {
  const box = document.createElement("div");
  const big = document.createElement("p");
  const small = document.createElement("p");
  box.className = `answer ${tone}`;
  big.className = "big";
  big.textContent = words;
  small.textContent = sentence;
  box.append(big, small);
  answer.replaceChildren(box);
}

function problem({ title, message, next_step, details = [] }) {
  say(title, [message, ...details, next_step].join(" "), "missing");
}

function clear() {
  clearTimeout(leaving);
  const held = answer.contains(document.activeElement);
  answer.replaceChildren();
  if (held) document.getElementById("text")?.focus({ preventScroll: true });
}

// An answer that asks nothing goes by itself, unless somebody opened it or is at one of its buttons.
let leaving = 0;
function leave() {
  clearTimeout(leaving);
  const box = answer.querySelector(".answer");
  if (!box || box.querySelector(".asked, .sizes") || box.matches(".missing, .question")) return;
  leaving = setTimeout(() => {
    if (box.querySelector("details[open]") || answer.contains(document.activeElement)) leave();
    else clear();
  }, SHOWN_MS);
}

answer.addEventListener("click", (event) => {
  if (!event.target.closest(".close")) return;
  event.preventDefault();
  clear();
});
document.addEventListener("keydown", (event) => event.key === "Escape" && clear());

outbox.addEventListener("settled", ({ detail: record }) => {
  if (record.shipment !== shipment) return;
  live.now();
  if (record.kind !== "scan" && record.kind !== "crop") return;
  if (record.state === "done" && record.answer?.html) {
    const facts = put(record.id, record.answer);
    const known = record.local && record.local.carton === facts?.carton && record.local.kind === facts.sound;
    if (!known) sound(facts?.sound);
  }
  else if (record.problem) { problem(record.problem); sound("question"); }
});

async function add(record, words) {
  try {
    const added = await outbox.add({ ...record, shipment });
    say(...words);
    return added;
  } catch {
    problem({ title: WORDS.notStored, message: whyWords("full"), next_step: "" });
    return null;
  }
}

// A picture of a label that the phone cannot read: {carton, sound} by the service, null where it cannot say now.
async function askWhat(blob) {
  const name = `label ${new Date().toISOString().replaceAll(":", "-")}.jpg`;
  const record = await add({ kind: "crop", url: `${address}/crops`, fields: stamp(), about: WORDS.crop, files: [{ field: "photos", name, blob }] },
    [WORDS.cropStored, WORDS.photosSentence]);
  const settled = record && await outbox.settled(record.id, CROP_MS);
  const facts = settled?.state === "done" ? settled.answer.answer : null;
  if (facts?.carton && sheet?.cartons[facts.carton]) sheet.cartons[facts.carton].here = true;
  return facts;
}

takePlace(document.getElementById("dock"));
takePerson(document.getElementById("dock"));

const scan = document.getElementById("scan");
const stamp = () => ["place", "by"].map((name) => [name, scan.elements[name].value]);

// What a scan surely is, by the sheet on this phone: told at once, with or without a signal.
let sheet = null;
sheetOf(address).then((found) => { sheet = found; });

function told(text, source) {
  const found = matchOnPhone(text, sheet, source);
  if (!found) return { words: outbox.why ? [WORDS.stored, WORDS.storedSentence] : [WORDS.checking, text] };
  const kind = found.here ? "already" : found.first ? "first" : "here";
  const more = [found.bay && WORDS.toBay(found.bay), found.first && WORDS.openFirst, found.here && WORDS.alreadyHere, found.care];
  sheet.cartons[found.carton].here = true;
  return { local: { carton: found.carton, kind }, words: [`${WORDS.here} · ${found.carton}`, [...more.filter(Boolean), WORDS.byPhone].join(". "), "here"] };
}

function scanned(text, source) {
  if (!document.body.dataset.person) {
    say(WORDS.notStored, WORDS.nameFirst, "question");
    sound("question");
    document.getElementById("person")?.focus();
    return;
  }
  const { local, words } = told(text, source);
  if (local) sound(local.kind);
  add({ kind: "scan", url: new URL(scan.action).pathname, fields: [...stamp(), ["text", text], ["source", source]], about: local ? local.carton : text, local }, words);
}

if (scan) {
  takeScans(scan, scanned);
}

const viewfinder = document.getElementById("viewfinder");
const opener = document.getElementById("live-camera");
if (opener && navigator.mediaDevices?.getUserMedia && globalThis.Worker && viewfinder?.showModal) {
  opener.hidden = false;
  opener.addEventListener("click", async () => {
    fetch(`${address}/camera`, { cache: "no-store" }).catch(() => {}); // the service makes ready what reads labels for it
    sheet ??= await sheetOf(address);
    openCamera(viewfinder, {
      sheet: () => sheet,
      progress: () => {
        const cartons = Object.entries(sheet?.cartons ?? {});
        const missing = cartons.filter(([, each]) => !each.here).sort(([, a], [, b]) => b.first - a.first);
        return cartons.length ? WORDS.progress(cartons.length - missing.length, cartons.length, missing.slice(0, 3).map(([id]) => id)) : "";
      },
      onCode: (text) => scanned(text, "camera"),
      onAlready: () => sound("already"),
      onCrop: askWhat,
    });
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
        const name = file.name || "photo.jpg";
        await add({ kind: "photo", url: new URL(camera.action).pathname, fields: stamp(), files: [{ field: "photos", name, blob: file }], about: name, large: true },
          [WORDS.photosStored(files.length), WORDS.photosSentence]);
      }
    });
  }
}

const silent = document.getElementById("silent");
if (silent) {
  const show = () => silent.setAttribute("aria-pressed", String(isSilent()));
  silent.hidden = false;
  silent.addEventListener("click", () => { setSilent(!isSilent()); show(); });
  show();
}

searchCartons(document.getElementById("live"));
