// Drag a carton to another trip or bay, or choose them under "Change": what it costs is shown before it is kept.

let dragged = null;

document.addEventListener("dragstart", (event) => {
  dragged = event.target.closest?.("[data-carton]");
  if (dragged) event.dataTransfer.setData("text/plain", dragged.dataset.carton);
});

for (const target of document.querySelectorAll("[data-trip], [data-bay]")) {
  target.addEventListener("dragover", (event) => {
    if (!dragged || target.contains(dragged)) return;
    event.preventDefault();
    target.classList.add("over");
  });
  target.addEventListener("dragleave", () => target.classList.remove("over"));
  target.addEventListener("drop", (event) => {
    event.preventDefault();
    target.classList.remove("over");
    const form = dragged.querySelector("form.check");
    form.reset();
    if (target.dataset.trip) form.elements.trip.value = target.dataset.trip;
    else form.elements.bay.value = target.dataset.bay;
    form.closest("details").open = true;
    form.requestSubmit();
  });
}

for (const form of document.querySelectorAll("form.check")) {
  const costs = form.nextElementSibling;
  let asked = "";
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const question = (asked = `${form.action}?${new URLSearchParams(new FormData(form))}`);
    costs.textContent = "Working it out …";
    try {
      const response = await fetch(question, { headers: { "X-Part": "change" } });
      const html = await response.text();
      if (question !== asked) return;
      costs.innerHTML = html;
    } catch {
      costs.textContent = "No signal: the cost cannot be worked out now.";
    }
    costs.focus({ preventScroll: true });
    costs.scrollIntoView({ block: "nearest" });
  });
  costs.addEventListener("click", (event) => {
    if (!event.target.closest(".leave")) return;
    event.preventDefault();
    asked = "";
    costs.replaceChildren();
    form.reset();
    form.closest("details").open = false;
    form.closest("details").querySelector("summary").focus();
  });
}
