// A fault's line number leads to that line in the editor, and selects it.

for (const link of document.querySelectorAll("a[data-line]")) {
  link.addEventListener("click", (event) => {
    const text = document.getElementById("text");
    const lines = text.value.split("\n");
    const number = Math.min(Number(link.dataset.line), lines.length);
    const start = lines.slice(0, number - 1).reduce((sum, line) => sum + line.length + 1, 0);
    event.preventDefault();
    text.focus();
    text.setSelectionRange(start, start + lines[number - 1].length);
    text.scrollTop = (text.scrollHeight / (lines.length + 1)) * Math.max(0, number - 3);
    text.scrollIntoView({ block: "nearest" });
  });
}
