// Who is receiving: said once, with or without a signal, and kept on this phone. It is sent with every record; the service
// is told as well, so that a page opened without scripts knows it, and told again when that failed.
const KEY = "person";
const TOLD = "person-told";

function keep(key, value) {
  try { localStorage.setItem(key, value); } catch { /* not remembered in this browser */ }
}

function kept(key) {
  try { return localStorage.getItem(key) ?? ""; } catch { return ""; }
}

export function takePerson(dock) {
  const form = dock.querySelector(".ask-who");
  if (!form) { keep(KEY, document.body.dataset.person); keep(TOLD, "yes"); return; } // the service knows who it is
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const name = form.elements.person.value.split(/\s+/).filter(Boolean).join(" ");
    if (!name) return;
    keep(KEY, name);
    keep(TOLD, "no");
    show(dock, form, name);
    tell(form, name);
  });
  const before = kept(KEY);
  if (!before) return;
  form.elements.person.value = before;
  if (kept(TOLD) === "no") { show(dock, form, before); tell(form, before); }
}

function show(dock, form, name) {
  for (const field of dock.querySelectorAll("input[name=by]")) field.value = name;
  document.body.dataset.person = name;
  form.hidden = true;
  dock.querySelector(".dock-row").hidden = false;
  dock.querySelector("#text")?.focus({ preventScroll: true });
}

function tell(form, name) {
  const fields = new FormData(form);
  fields.set("person", name);
  fetch(form.action, { method: "POST", body: fields, redirect: "manual" })
    .then((response) => { if (response.type === "opaqueredirect") keep(TOLD, "yes"); })
    .catch(() => addEventListener("online", () => tell(form, name), { once: true }));
}
