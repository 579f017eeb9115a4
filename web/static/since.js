// What this phone did since the counts of this page were made, and the service had not when it made them: told beside the
// counts and sent with the confirmation, so that both say the same when all has arrived.
import { DONE, WAITING } from "./database.js";
import { outbox } from "./outbox.js";
import { WORDS, titleOf } from "./words.js";

const MOST = 1000;
const box = document.getElementById("since");
const form = box?.closest("form");
const address = location.pathname.replace(/[^/]+$/, ""); // of the shipment, as the records name it

function cartonsOf({ local, answer, fields }) {
  const said = fields.filter(([name, value]) => name === "carton" && value).map(([, value]) => value);
  return [...new Set([local?.carton, answer?.answer?.carton, ...said].filter(Boolean))];
}

async function show() {
  const all = [...await outbox.list(WAITING, MOST), ...await outbox.list(DONE, MOST)];
  const since = all.filter((record) => record.url.startsWith(address) && record.kind !== "confirmation"
    && (record.state === WAITING || record.settled_ms + (record.offset_ms ?? 0) > Number(box.dataset.at)));
  const told = since.filter((record) => cartonsOf(record).length).reverse();
  const unknown = since.length - told.length;
  box.replaceChildren();
  box.hidden = !since.length;
  if (!since.length) return;
  if (told.length) box.append(made("p", WORDS.since), list(told));
  if (unknown) box.append(made("p", WORDS.sinceUnknown(unknown)));
  for (const carton of new Set(told.flatMap(cartonsOf))) {
    box.append(Object.assign(document.createElement("input"), { type: "hidden", name: "since", value: carton }));
  }
}

function made(name, words) { return Object.assign(document.createElement(name), { textContent: words }); }

function list(records) {
  const whole = Object.assign(document.createElement("ul"), { className: "plain" });
  whole.append(...records.map((record) => made("li", titleOf({ ...record, about: cartonsOf(record).join(", ") }))));
  return whole;
}

if (form) {
  show();
  outbox.addEventListener("change", show);
}
