// The field for scans: a wedge scanner types into it, wherever the focus is, and its keys are told from a person's.

const IDLE_MS = 500; // a scanner that ends in nothing is done when no key came for so long; a busy phone hands keys on late
const PERSON_MS = 35; // a scanner takes some 10 ms a key, a person 60 and more
const BEHIND_MS = 150; // a second key behind the end of a scan, as Tab behind Enter, comes with it

// Scanners send control characters as keys with Ctrl (GS as Ctrl+], RS as Ctrl+^, EOT as Ctrl+D), which a field drops.
export function controlKey(event) {
  if (!event.ctrlKey || event.altKey || event.metaKey) return "";
  if (event.key === "]" || event.code === "BracketRight") return "\u001d";
  if (event.key === "^" || event.key === "6") return "\u001e";
  return event.key === "d" || event.key === "D" ? "\u0004" : "";
}

export function takeScans(form, taken) {
  const text = form.elements.text;
  let times = [];
  let idle = 0;
  let ended = -Infinity;

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const line = text.value;
    const source = typedByHand() ? "typed" : "scanner";
    text.value = "";
    if (line.trim()) taken(line, source);
  });

  text.addEventListener("keydown", (event) => {
    if (event.key.length === 1) times.push(event.timeStamp);
    const sign = controlKey(event);
    if (sign === "\u001d" || (sign && times.length > 2)) {
      event.preventDefault();
      text.setRangeText(sign, text.selectionStart, text.selectionEnd, "end");
    }
    // Some scanners end in Tab, others in nothing: what was typed as fast as no person types is sent all the same.
    if (event.key === "Tab" && text.value && !byHand()) {
      event.preventDefault();
      form.requestSubmit();
    } else if (event.key === "Tab" && event.timeStamp - ended < BEHIND_MS) {
      event.preventDefault();
    }
    clearTimeout(idle);
    if (event.key.length === 1) idle = setTimeout(() => times.length > 7 && !byHand() && form.requestSubmit(), IDLE_MS);
  });

  function byHand() {
    const gap = times.length > 1 ? (times.at(-1) - times[0]) / (times.length - 1) : Infinity;
    return gap > PERSON_MS;
  }

  function typedByHand() {
    const hand = byHand();
    ended = hand ? -Infinity : times.at(-1);
    times = [];
    clearTimeout(idle);
    return hand;
  }

  takeAway(taken, (target) => {
    if (target.closest("select")) return false; // its keys choose: told from a person's only by how fast they come
    text.focus({ preventScroll: true });
    return document.activeElement === text; // not where it is hidden, or behind a dialog
  });
}

const TYPED_INTO = "textarea, [contenteditable], input:not([type=file], [type=checkbox], [type=radio], [type=range], [type=button], [type=submit], [type=reset])";
const LEAST = 4; // as short as a scan may be where no field shows what came

// What a scanner types anywhere but in a field: it goes to the field that ``lead`` focuses, and where there is none it is
// collected. Its Enter must not press the button in focus, its letters must not choose from a list.
export function takeAway(taken, lead = () => false) {
  let line = "";
  let times = [];
  let list = null; // the list in focus, and what was chosen there before
  let idle = 0;

  function forget() {
    clearTimeout(idle);
    line = "";
    times = [];
    list = null;
  }

  function isScan() {
    return line.length >= LEAST && (times.at(-1) - times[0]) / (times.length - 1) <= PERSON_MS;
  }

  function take() {
    const scanned = line;
    if (list && list.field.value !== list.value) {
      list.field.value = list.value;
      list.field.dispatchEvent(new Event("change", { bubbles: true }));
    }
    forget();
    taken(scanned, "scanner");
  }

  document.addEventListener("keydown", (event) => {
    const { target, key, timeStamp } = event;
    if (target.closest(TYPED_INTO)) { forget(); return; }
    if ((key === "Enter" || key === "Tab") && isScan()) { event.preventDefault(); take(); return; }
    const sign = line && controlKey(event);
    const is_sign = key.length === 1 && !event.metaKey && !event.altKey && !event.ctrlKey;
    if (key === "Shift" || (!sign && !is_sign)) return;
    if (!line && (key === " " || lead(target))) return; // a space presses what has the focus
    if (timeStamp - times.at(-1) > IDLE_MS) forget();
    if (!line && target.closest("select")) list = { field: target, value: target.value };
    if (sign || key === " ") event.preventDefault();
    line += sign || key;
    times.push(timeStamp);
    clearTimeout(idle);
    idle = setTimeout(() => (line.length > 7 && isScan() ? take() : forget()), IDLE_MS);
  });
}
