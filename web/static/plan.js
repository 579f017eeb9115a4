// Drag a carton by mouse or finger to another trip or bay, or choose them under "Change" (the way of the keyboard):
// what it costs is shown before it is kept. While a carton is dragged, every trip and bay is within the thumb's reach.

import { WORDS } from "./words.js";

const NEAR_PX = 6; // a press that moves less is a tap
const EDGE_PX = 70; // from the top edge on, the page scrolls along

const targets = document.querySelector(".targets");
let drag = null;

if (targets && window.PointerEvent) {
  document.documentElement.classList.add("draggable");
  document.addEventListener("pointerdown", (event) => {
    const row = event.target.closest?.(".load > li[data-carton]:not(.moved)");
    const byGrip = event.target.closest?.(".grip");
    const byMouse = event.pointerType === "mouse" && event.button === 0 && !event.target.closest("details, form, a");
    if (!row || !(byGrip || byMouse)) return;
    drag = { row, id: event.pointerId, x: event.clientX, y: event.clientY, ghost: null, over: null };
    if (byMouse) event.preventDefault(); // else the browser marks text
  });
  document.addEventListener("pointermove", (event) => {
    if (!drag || event.pointerId !== drag.id) return;
    if (!drag.ghost && Math.hypot(event.clientX - drag.x, event.clientY - drag.y) < NEAR_PX) return;
    if (!drag.ghost) lift();
    drag.ghost.style.transform = `translate(${event.clientX + 12}px, ${event.clientY - 48}px)`;
    if (event.clientY < EDGE_PX) scrollBy(0, -14);
    aim(document.elementFromPoint(event.clientX, event.clientY)?.closest("[data-trip], [data-bay]"));
  });
  document.addEventListener("pointerup", (event) => {
    if (drag && event.pointerId === drag.id) put(drag.over);
  });
  document.addEventListener("pointercancel", () => put(null));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") put(null);
  });
}

function lift() {
  drag.ghost = document.createElement("div");
  drag.ghost.className = "ghost";
  drag.ghost.textContent = drag.row.dataset.carton;
  document.body.append(drag.ghost);
  drag.row.classList.add("dragged");
  document.documentElement.classList.add("dragging");
  targets.querySelector("b").textContent = drag.row.dataset.carton;
  targets.hidden = false;
}

function aim(target) {
  const own = target?.contains(drag.row) ? null : target;
  if (own === drag.over) return;
  drag.over?.classList.remove("over");
  own?.classList.add("over");
  drag.over = own;
}

function put(target) {
  if (!drag) return;
  const { row, ghost } = drag;
  target?.classList.remove("over");
  row.classList.remove("dragged");
  ghost?.remove();
  drag.over?.classList.remove("over");
  document.documentElement.classList.remove("dragging");
  targets.hidden = true;
  drag = null;
  if (!target || !ghost) return;
  const form = row.querySelector("form.check");
  form.reset();
  if (target.dataset.trip) form.elements.trip.value = target.dataset.trip;
  else form.elements.bay.value = target.dataset.bay;
  form.closest("details").open = true;
  form.requestSubmit();
}

for (const form of document.querySelectorAll("form.check")) {
  const costs = form.nextElementSibling;
  let asked = "";
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const question = (asked = `${form.action}?${new URLSearchParams(new FormData(form))}`);
    costs.textContent = WORDS.working;
    try {
      const response = await fetch(question, { headers: { "X-Part": "change" }, redirect: "manual" });
      if (response.headers.get("X-Service") !== "receiving") throw new Error("not our service");
      const html = await response.text();
      if (question !== asked) return;
      costs.innerHTML = html;
    } catch {
      costs.textContent = WORDS.noCost;
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
