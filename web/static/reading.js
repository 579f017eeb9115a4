// While a file is sent and read: how long it has taken, once it takes more than two seconds.

import { figure } from "./language.js";
import { WORDS } from "./words.js";

const SAY_AFTER_MS = 2000;

for (const line of document.querySelectorAll("[data-reading]")) {
  line.closest("form").addEventListener("going", (event) => {
    const started = performance.now();
    const size = [...event.target.elements].flatMap((field) => [...(field.files ?? [])]).reduce((sum, file) => sum + file.size, 0);
    const megabytes = size > 100_000 ? figure(size / 1e6, 1) : "";
    setInterval(() => {
      const seconds = Math.floor((performance.now() - started) / 1000);
      line.hidden = performance.now() - started < SAY_AFTER_MS;
      line.textContent = WORDS.reading(seconds, megabytes);
    }, 500);
  });
}
