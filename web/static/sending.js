// A form that the browser sends itself leaves its page, and what was typed and ticked with it. So the service is asked
// first whether it is there and knows this person still; where it does not, the form stays as it is and says why.
import { actionOf } from "./forms.js";
import { say } from "./saying.js";
import { ask, SERVICE } from "./transport.js";
import { WORDS } from "./words.js";

const PATIENCE_MS = 8000;
const sure = new WeakSet();

export function askFirst() {
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    const submitter = event.submitter;
    if (event.defaultPrevented || form.method !== "post" || form.querySelector("input[type=password]")) return;
    if (actionOf(form, new FormData(form, submitter))) return; // the outbox keeps it
    if (sure.delete(form)) { form.dispatchEvent(new Event("going")); return; }
    event.preventDefault();
    if (form.getAttribute("aria-busy")) return; // it was pressed twice
    form.setAttribute("aria-busy", "true");
    const { body } = await ask("/signal", { cache: "no-store" }, PATIENCE_MS);
    form.removeAttribute("aria-busy");
    const why = body?.service !== SERVICE ? WORDS.notSentSignal : body.signed_in ? "" : WORDS.notSentSession;
    if (why) { keep(form, why, body?.service === SERVICE); return; }
    if (form.elements.token) form.elements.token.value = body.token; // another one since somebody signed in anew
    form.querySelector(":scope > .form-said")?.remove();
    sure.add(form);
    form.requestSubmit(submitter);
  });
}

// The sign-in opens beside this page, which stays as it is.
function keep(form, why, known) {
  say(form, why, "alert");
  const line = form.querySelector(":scope > .form-said");
  line.classList.add("missing");
  if (known) line.append(" ", Object.assign(document.createElement("a"), { href: "/sign-in", target: "_blank", rel: "opener", textContent: WORDS.signIn }));
  line.scrollIntoView({ block: "nearest" });
}
