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

  // What a scanner types anywhere but in a field goes into the scan field; its Enter must not press a button in focus.
  document.addEventListener("keydown", (event) => {
    const free = !event.target.closest("input, textarea, select");
    if (free && event.key.length === 1 && event.key !== " " && !event.metaKey && !event.altKey && !event.ctrlKey) text.focus({ preventScroll: true });
  });
}
