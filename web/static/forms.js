// Forms that change something go through the outbox instead of the browser: with a signal they look as before, without
// one they are stored. Which action a form is follows from its address and fields, so that pages need say nothing.
import { lookAgain, showFault } from "./faults.js";
import { outbox } from "./outbox.js";
import { say } from "./saying.js";
import { uuid } from "./uuid.js";
import { WORDS, titleOf, whyWords } from "./words.js";

const PATIENCE_MS = 2500;
const LEFT_OUT = new Set(["token", "back", "anchor"]);
const NOTES = {
  note_withdrawn: "undo", read_rejected: "undo", damage_noted: "damage", content_counted: "count", carton_place: "place",
  place_searched: "search", short_declared: "short", carton_moved: "moved", staging_changed: "plan", read_assigned: "answer", size_said: "answer",
};

// {kind, shipment} of a form that the outbox sends, or null.
export function actionOf(form, fields) {
  const path = new URL(form.action, location.href).pathname;
  const [, shipment, what] = path.match(/^\/s\/([^/]+)\/(.+)$/) ?? [];
  if (form.method !== "post" || !what) return null;
  if (fields.get("pin")) return null; // a PIN is never stored on a phone
  if (what === "notes") return { shipment, kind: NOTES[fields.get("kind")] ?? "note" };
  if (what === "scans") return { shipment, kind: "scan" };
  if (what === "scan-list") return { shipment, kind: "list" };
  if (what === "photos") return { shipment, kind: "photo", large: true };
  if (what === "receipt") return { shipment, kind: "confirmation" };
  if (what.startsWith("questions/")) return { shipment, kind: "answer" };
  return null;
}

function parts(fields) {
  const texts = [];
  const files = [];
  for (const [name, value] of fields) {
    if (value instanceof File) { if (value.size) files.push({ field: name, name: value.name || "photo.jpg", blob: value }); }
    else if (!LEFT_OUT.has(name)) texts.push([name, value]);
  }
  if (!fields.has("by") && document.body.dataset.person) texts.push(["by", document.body.dataset.person]);
  if (!fields.has("place") && document.body.dataset.place && files.length) texts.push(["place", document.body.dataset.place]);
  return { texts, files };
}

// Takes over a form's sending. told(record) hears what became of it; it gives true where it has shown that already.
export function takeForms({ told = () => false } = {}) {
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (event.defaultPrevented) return;
    const fields = new FormData(form, event.submitter);
    const action = actionOf(form, fields);
    if (!action) return;
    event.preventDefault();
    const { texts, files } = parts(fields);
    const record = { ...action, url: new URL(form.action).pathname, fields: texts, files, id: uuid(), about: fields.get("carton") ?? "" };
    form.setAttribute("aria-busy", "true");
    try {
      await outbox.add(record);
    } catch {
      form.removeAttribute("aria-busy");
      say(form, whyWords("full"));
      return;
    }
    await show(form, record, await outbox.settled(record.id, navigator.onLine ? PATIENCE_MS : 300), told, goal(fields));
    form.removeAttribute("aria-busy");
  });
}

// Where the form leads on: the page that it names, at its anchor.
function goal(fields) {
  const back = fields.get("back") ?? "";
  const anchor = fields.get("anchor") ? `#${fields.get("anchor")}` : "";
  return back.startsWith("/") && !back.startsWith("//") ? back + anchor : "";
}

const CHANGED = 409; // Conflict (RFC 9110, section 15.5.10)

async function show(form, record, settled, told, back) {
  if (await told(form, record, settled)) return;
  if (settled?.state === "done") { open(back || settled.answer.location); return; }
  if (settled?.state === "refused") {
    if (form.elements.digest && settled.problem.status === CHANGED) lookAgain(form, settled.problem);
    else showFault(form, settled.problem);
    return;
  }
  say(form, WORDS.storedHere(titleOf(record)));
}

function open(address) {
  if (!address) { location.reload(); return; }
  const target = new URL(address, location.href);
  const same = target.pathname === location.pathname && target.search === location.search;
  if (!same) { location.assign(target); return; }
  history.replaceState(null, "", target);
  location.reload();
}
