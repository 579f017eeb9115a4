// Where the boxes stand: chosen on the phone, with or without a signal, and sent with every scan and photo. The service is
// told as well, so that a page opened without scripts knows it; that may fail.
import { WORDS } from "./words.js";

const KEY = "place";

export function takePlace(dock) {
  const form = dock.querySelector("form[action$='/place']");
  if (!form) return;
  const buttons = [...form.querySelectorAll("button[name=place]")];

  function choose(value) {
    const chosen = buttons.find((button) => button.value === value);
    if (!chosen) return;
    for (const button of buttons) button.setAttribute("aria-pressed", String(button === chosen));
    for (const field of dock.querySelectorAll("input[name=place]")) field.value = value;
    document.body.dataset.place = value;
    dock.querySelector("#place summary b").textContent = chosen.textContent;
    caution(value === "overhead");
  }

  function caution(wanted) {
    let line = dock.querySelector(":scope > .caution");
    if (!wanted) { line?.remove(); return; }
    if (line) return;
    line = document.createElement("p");
    line.className = "caution";
    line.textContent = WORDS.overhead;
    dock.querySelector(".dock-row").before(line);
  }

  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const { value } = event.submitter;
    choose(value);
    try { localStorage.setItem(KEY, value); } catch { /* not remembered in this browser */ }
    dock.querySelector("#place").open = false;
    fetch(form.action, { method: "POST", body: new FormData(form, event.submitter), redirect: "manual" }).catch(() => {});
  });

  try { if (!navigator.onLine) choose(localStorage.getItem(KEY)); } catch { /* not remembered in this browser */ }
}
