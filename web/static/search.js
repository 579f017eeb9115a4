// Narrows the lists of cartons while somebody types; what was folded opens to show what fits, and folds again after.

export function searchCartons(live) {
  const unfolded = new Set();
  let sought = "";

  function narrow() {
    const field = document.getElementById("carton-search");
    if (!field) return;
    field.hidden = false;
    if (field.value !== sought && document.activeElement === field) sought = field.value;
    else field.value = sought; // the part was swapped for a fresh one
    const words = sought.toLowerCase().split(/\s+/).filter(Boolean);
    for (const row of live.querySelectorAll(".carton")) row.hidden = !words.every((word) => row.textContent.toLowerCase().includes(word));
    for (const group of live.querySelectorAll("details:has(.carton)")) {
      if (words.length && !group.open && group.querySelector(".carton:not([hidden])")) {
        unfolded.add(group.id);
        group.open = true;
      } else if (!words.length && unfolded.delete(group.id)) group.open = false;
    }
  }

  live.addEventListener("input", (event) => event.target.id === "carton-search" && narrow());
  new MutationObserver(narrow).observe(live, { childList: true });
  narrow();
}
