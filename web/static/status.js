// The line that says what waits on this phone, on every page of the rep.
import { outbox } from "./outbox.js";
import { WORDS, counted, total, whyWords } from "./words.js";

const SHORT_MS = 1500;

export function showStatus(line, made) {
  let asked = 0;
  let since = 0; // what is sent at once is not worth a line that comes and goes
  async function tell() {
    const ask = ++asked;
    const [{ waiting, refused, done }, temporary] = await Promise.all([outbox.counts(), outbox.temporary()]);
    if (ask !== asked) return;
    const what = counted(waiting);
    const sentences = [];
    if (outbox.why) sentences.push(whyWords(outbox.why, { waiting }));
    else if (what && Date.now() - (since ||= Date.now()) > SHORT_MS) sentences.push(WORDS.sending(what));
    else if (what) setTimeout(tell, SHORT_MS);
    if (outbox.why || !what) since = 0;
    if (total(refused)) sentences.push(WORDS.refusedSome(total(refused)));
    if (temporary && what) sentences.push(WORDS.memoryOnly);
    line.querySelector("span").textContent = sentences.join(" ");
    line.dataset.why = outbox.why || (total(refused) ? "refused" : "");
    line.hidden = !sentences.length;
    if (made) {
      made.textContent = WORDS.state(total(waiting) + total(refused) + total(done), total(waiting) + total(refused));
      made.hidden = false;
    }
  }
  outbox.addEventListener("change", tell);
  tell();
}
