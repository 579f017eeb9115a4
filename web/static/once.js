// One submit is one action: each form that goes to the service by itself takes an id along, which the service remembers
// with what became of it. A second tap, a retry by the browser, and the same form after Back carry the same id, and are
// answered again without being done again. Forms in parts of pages are shared between phones, so the id is made here.
import { actionOf } from "./forms.js";
import { uuid } from "./uuid.js";

const FIELD = "action_id";
const MOST = 20;
const LEFT_OUT = new Set([FIELD, "token"]);

const sent = new WeakMap(); // form -> {text, id}: what it sent last

export function markForms() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    const fields = new FormData(form, event.submitter);
    if (actionOf(form, fields)) return; // the outbox gives it its id
    field(form).value = idOf(form, fields);
  });
}

function field(form) {
  const held = form.querySelector(`input[name=${FIELD}]`);
  if (held) return held;
  const made = document.createElement("input");
  made.type = "hidden";
  made.name = FIELD;
  form.append(made);
  return made;
}

// The id of what this form sends now: the one that it had where it sent the same before.
function idOf(form, fields) {
  const text = textOf(form, fields);
  const last = sent.get(form);
  if (last?.text === text) return last.id;
  const id = form.querySelector("input[type=password]") ? uuid() : kept(text);
  sent.set(form, { text, id });
  return id;
}

function textOf(form, fields) {
  const values = [];
  for (const [name, value] of fields) {
    const said = value instanceof File ? value.size && [value.name, value.size, value.lastModified] : value;
    if (said && !LEFT_OUT.has(name)) values.push([name, said]); // after Back a page may have other fields, empty ones
  }
  return JSON.stringify([new URL(form.action).pathname, values]);
}

// After Back the page may be built anew, but its entry in the history is the one from which the form was sent.
function kept(text) {
  const ids = Array.isArray(history.state?.sent) ? history.state.sent : [];
  const mark = digest(text);
  const known = ids.find((each) => each.mark === mark);
  if (known) return known.id;
  const id = uuid();
  try { history.replaceState({ ...history.state, sent: [...ids, { mark, id }].slice(-MOST) }, ""); } catch { /* only this page remembers it */ }
  return id;
}

// 64 bits of FNV-1a, enough to tell what one page sent: crypto.subtle answers too late for a submit.
function digest(text) {
  let hash = 0xcbf29ce484222325n;
  for (let at = 0; at < text.length; at++) hash = BigInt.asUintN(64, (hash ^ BigInt(text.charCodeAt(at))) * 0x100000001b3n);
  return hash.toString(16);
}
