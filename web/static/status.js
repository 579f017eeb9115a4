// The line that says what waits on this phone, on every page of the rep.
import { outbox } from "./outbox.js";
import { WORDS, counted, whyWords } from "./words.js";

const total = (kinds) => Object.values(kinds).reduce((sum, n) => sum + n, 0);

export function showStatus(line, made) {
  let asked = 0;
  async function tell() {
    const ask = ++asked;
    const [{ waiting, refused, done }, temporary] = await Promise.all([outbox.counts(), outbox.temporary()]);
    if (ask !== asked) return;
    const what = counted(waiting);
    const sentences = [];
    if (outbox.why) sentences.push(whyWords(outbox.why, { waiting: what }) );
    else if (what) sentences.push(WORDS.sending(what));
    if (total(refused)) sentences.push(`${WORDS.refusedSome(total(refused))}.`);
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
