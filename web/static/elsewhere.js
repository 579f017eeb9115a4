// A page of a shipment without the field for scans: what a scanner types there is a scan all the same, and is answered
// in a line at the top; what stands in the page's forms stays.
import { outbox } from "./outbox.js";
import { takeAway } from "./scanning.js";
import { sound } from "./signals.js";
import { WORDS, titleOf, whyWords } from "./words.js";

const PATIENCE_MS = 2500;

export function scanElsewhere() {
  const [, shipment] = location.pathname.match(/^\/s\/([^/]+)\//) ?? [];
  const { scans, person, place } = document.body.dataset;
  if (!shipment || scans === undefined || document.getElementById("scan")) return;
  takeAway(async (text, source) => {
    const fields = [["place", place], ["by", person], ["text", text], ["source", source]];
    let record;
    try {
      record = await outbox.add({ kind: "scan", shipment, url: `/s/${shipment}/scans`, fields, about: text });
    } catch {
      show(WORDS.notStored, whyWords("full"), "missing");
      return;
    }
    const settled = await outbox.settled(record.id, navigator.onLine ? PATIENCE_MS : 300);
    const facts = settled?.answer?.answer;
    if (facts) show([facts.word, facts.carton].filter(Boolean).join(" · "), facts.sentence, facts.tone, facts.sound);
    else if (settled?.problem) show(WORDS.problem, `${settled.problem.message} ${settled.problem.next_step}`, "missing");
    else show(WORDS.stored, WORDS.storedHere(titleOf(record)), "plain");
  });
}

function show(word, sentence, tone, tune = "question") {
  let line = document.getElementById("scanned");
  if (!line) {
    line = Object.assign(document.createElement("p"), { id: "scanned" });
    line.setAttribute("role", "status");
    document.getElementById("main").prepend(line);
  }
  const strong = Object.assign(document.createElement("b"), { textContent: word });
  line.className = `notice ${tone}`;
  line.replaceChildren(strong, ` ${sentence}`);
  line.scrollIntoView({ block: "nearest" });
  sound(tune);
}
