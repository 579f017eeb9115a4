// The field for scans: a wedge scanner types into it, wherever the focus is, and its keys are told from a person's.

const PERSON_MS = 35; // a scanner takes some 10 ms a key, a person 60 and more

export function takeScans(form, taken) {
  const text = form.elements.text;
  let times = [];

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const line = text.value;
    const source = typedByHand() ? "typed" : "scanner";
    text.value = "";
    if (line.trim()) taken(line, source);
  });

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
    return gap > PERSON_MS;
  }

  // What a scanner types anywhere but in a field goes into the scan field; its Enter must not press a button in focus.
  document.addEventListener("keydown", (event) => {
    const free = !event.target.closest("input, textarea, select");
    if (free && event.key.length === 1 && event.key !== " " && !event.metaKey && !event.altKey && !event.ctrlKey) text.focus({ preventScroll: true });
  });
}
