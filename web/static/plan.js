// Drag a carton to another trip or bay. The same change can be made with the fields under "Change".

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
    const form = dragged.querySelector("form");
    if (target.dataset.trip) form.elements.trip.value = target.dataset.trip;
    else form.elements.bay.value = target.dataset.bay;
    form.requestSubmit();
  });
}
