// Why a form was not taken, said above it with a link to the field (WCAG 2.2, 3.3.1 and 3.3.3); what was typed stays. The
// fault of a form that the browser sent itself comes as a page of its own: that leads back to the form.
import { WORDS } from "./words.js";

const KEY = "typed";
const OF_ONE_SHOWING = new Set(["token", "digest", "signature"]);
const NEVER_KEPT = new Set(["password", "file", "hidden"]);

export function showFault(form, { message, next_step = "", field = "" }) {
  for (const old of document.querySelectorAll("#fault")) old.remove();
  for (const old of document.querySelectorAll('[aria-describedby="fault-words"]')) {
    old.removeAttribute("aria-invalid");
    old.removeAttribute("aria-describedby");
  }
  const control = fieldOf(form, field);
  const box = made("div", { id: "fault", className: "notice missing", tabIndex: -1 });
  box.setAttribute("role", "alert");
  const words = made("p", { id: "fault-words" });
  const said = made(control ? "a" : "b", { textContent: message });
  if (control) {
    said.href = `#${control.id || field}`;
    said.dataset.field = field;
    control.setAttribute("aria-invalid", "true");
    control.setAttribute("aria-describedby", "fault-words");
  }
  words.append(said, ` ${next_step}`);
  const whole = made("div", {});
  whole.append(made("h2", { textContent: WORDS.problem }), words);
  box.append(whole);
  if (form.elements?.digest) document.querySelector("h1").after(box); // what has to be looked at follows it
  else form.before(box);
  box.focus();
  said.addEventListener("click", (event) => control && lead(event, control));
}

function made(name, values) { return Object.assign(document.createElement(name), values); }

function fieldOf(form, field) {
  const found = field && form.elements?.namedItem(field);
  const control = found instanceof RadioNodeList ? found[0] : found;
  return control && control.type !== "hidden" ? control : null;
}

// The field of this id, else the first of this name.
function fieldAt(id, name) {
  return document.getElementById(id) ?? (name ? document.querySelector(`main [name="${CSS.escape(name)}"]:not([type=hidden])`) : null);
}

function lead(event, control) {
  event.preventDefault();
  control.closest("details")?.setAttribute("open", "");
  control.focus();
}

// A form that the browser sends itself: what was typed is stored for the case that it comes back with a fault.
export function keepTyped() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post") return;
    if (pathOf(form.action) === "/sign-in") return; // what was typed before is wanted behind it
    write({ page: here(), action: pathOf(form.action), hidden: hidden(form), values: values(form) });
  });
}

export function showTyped() {
  const fault = document.getElementById("fault");
  if (fault && !fault.dataset.back) {
    fault.focus();
    for (const link of fault.querySelectorAll("a[href^='#']")) {
      const control = fieldAt(link.hash.slice(1), fault.dataset.field);
      if (control) link.addEventListener("click", (event) => lead(event, control));
    }
  }
  const typed = read();
  if (!typed) return;
  if (fault?.dataset.back) { goBack(fault, typed); return; }
  if (typed.page !== here()) return;
  sessionStorage.removeItem(KEY);
  if (!typed.fault) return;
  const form = [...document.forms].find((each) => pathOf(each.action) === typed.action && hidden(each) === typed.hidden);
  if (form) fill(form, typed.values);
  showFault(form ?? document.querySelector("main > :last-child"), typed.fault);
}

// What a form confirmed has changed: the page is shown anew, with the changes marked against what was seen before
// (``digest``), what was typed in its place, and the reason on top. What was drawn is not kept: it signed something else.
export function lookAgain(form, fault) {
  const page = `${location.pathname}?before=${form.elements.digest.value}`;
  write({ page, action: pathOf(form.action), hidden: hidden(form), values: values(form), fault });
  location.replace(page);
}

function goBack(fault, typed) {
  const back = new URL(fault.dataset.back, location.href);
  if (back.pathname + back.search !== typed.page || fault.querySelector(".faults, .notice")) return; // a list stays
  const message = fault.querySelector("b").textContent;
  const next_step = fault.querySelector(".step")?.textContent ?? "";
  write({ ...typed, fault: { message, next_step, field: fault.dataset.field ?? "" } });
  location.replace(back);
}

function values(form) {
  return [...form.elements].filter((each) => each.name && !NEVER_KEPT.has(each.type) && each.tagName !== "BUTTON")
    .map((each) => (isTick(each) ? [each.name, each.checked, each.value] : [each.name, each.value]));
}

function fill(form, kept) {
  const fields = [...form.elements].filter((each) => each.name && !NEVER_KEPT.has(each.type) && each.tagName !== "BUTTON");
  const rest = kept.filter(([, value]) => typeof value !== "boolean");
  const ticks = new Map(kept.filter(([, value]) => typeof value === "boolean").map(([name, on, value]) => [`${name}=${value}`, on]));
  fields.filter(isTick).forEach((each) => {
    each.checked = ticks.get(`${each.name}=${each.value}`) ?? each.checked; // rows may stand in another order by now
    if (each.checked) each.closest("details")?.setAttribute("open", "");
  });
  fields.filter((each) => !isTick(each)).forEach((each) => {
    const found = rest.findIndex(([name]) => name === each.name); // of several alike in their order; some may be gone
    if (found < 0) return;
    const [[, value]] = rest.splice(found, 1);
    each.value = value;
    if (value) each.closest("details")?.setAttribute("open", "");
  });
  for (const each of fields) each.dispatchEvent(new Event("change", { bubbles: true }));
}

function isTick(field) { return field.type === "checkbox" || field.type === "radio"; }

function hidden(form) {
  const fields = [...form.elements].filter((each) => each.type === "hidden" && !OF_ONE_SHOWING.has(each.name));
  return fields.map((each) => `${each.name}=${each.value}`).join("&");
}

function pathOf(address) { return new URL(address, location.href).pathname; }
function here() { return location.pathname + location.search; }

function write(typed) {
  try { sessionStorage.setItem(KEY, JSON.stringify(typed)); } catch { /* full or refused: the fault's own page stays */ }
}

function read() {
  try { return JSON.parse(sessionStorage.getItem(KEY)); } catch { return null; }
}
