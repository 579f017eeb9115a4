// Another language: the service remembers it for this browser, and the page is opened anew in it. It needs a signal, since
// the pages and the words of the scripts come from the service.
import { say } from "./saying.js";
import { WORDS } from "./words.js";

export function takeLanguages() {
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("form.languages")) return;
    event.preventDefault();
    try {
      const answer = await fetch(form.action, { method: "POST", body: new FormData(form, event.submitter), redirect: "manual" });
      if (answer.type !== "opaqueredirect") throw new Error(String(answer.status));
      location.reload();
    } catch {
      say(form, WORDS.languageLater, "alert");
    }
  });
}
