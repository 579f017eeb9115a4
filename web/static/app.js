// Every page: what waits on this phone, forms that work without a signal, and the service worker.
import { forgetPages, keepFor, keepShell } from "./keeping.js";
import { outbox } from "./outbox.js";
import { prepareSound } from "./signals.js";
import { showStatus } from "./status.js";
import { keepTyped, showTyped } from "./faults.js";
import { takeForms } from "./forms.js";
import { markForms } from "./once.js";
import { askFirst } from "./sending.js";
import { scanElsewhere } from "./elsewhere.js";
import { takeLanguages } from "./languages.js";

const line = document.getElementById("signal");
if (line) showStatus(line, document.getElementById("made"));
if (!document.getElementById("live")) takeForms(); // the shipment page takes its forms itself
takeLanguages();
askFirst();
keepTyped();
showTyped();
markForms();
prepareSound();
scanElsewhere();
outbox.start();
// Where somebody comes in, what was kept for the one before goes, though he is signed in still.
const comes = document.querySelector("form[action='/sign-in'], form[data-come]");
(comes ? forgetPages() : Promise.resolve()).then(() => keepFor(document.body.dataset.reader ?? "")).then(keepShell).catch(() => {});
document.querySelector("footer.who form")?.addEventListener("submit", async (event) => {
  event.preventDefault();
  await forgetPages().catch(() => {});
  event.target.submit();
});
// Without a signal right now the worker cannot be fetched; the next page that opens asks for it again.
navigator.serviceWorker?.register("/offline.js").catch(() => {});
