// The list of what this phone did: what waits and why, what was refused, what the server received and said.
import { clockTime } from "./language.js";
import { outbox } from "./outbox.js";
import { WORDS, titleOf, whyWords } from "./words.js";

const PARTS = [["refused", "refused"], ["waiting", "waiting"], ["done", "done"]];
const MOST = 200;

function element(tag, text = "", className = "") {
  const made = document.createElement(tag);
  made.textContent = text;
  made.className = className;
  return made;
}

function button(words, about, press) {
  const made = element("button", words, "button small quiet");
  made.type = "button";
  made.setAttribute("aria-label", WORDS.about(words, about));
  made.addEventListener("click", press);
  return made;
}

// Made by whoever was signed in here before: that it waits, and whose it is, is all that the next person is told.
function isAnothers({ maker = "" }) {
  return maker !== "" && maker !== (document.body.dataset.account ?? "");
}

function said(record) {
  if (isAnothers(record)) return whyWords("person");
  if (record.problem) return `${record.problem.message} ${record.problem.next_step}`;
  if (record.state !== "done") return whyWords(record.why);
  const facts = record.answer?.answer;
  if (record.local && facts && facts.carton !== record.local.carton) return WORDS.differs(record.local.carton, facts.carton || facts.word);
  return facts ? [facts.carton ? `${facts.word} · ${facts.carton}` : facts.word, facts.sentence].join(": ") : "";
}

function row(record) {
  const item = element("li", "", "card queue-row");
  item.dataset.id = record.id;
  item.dataset.state = record.state;
  const title = isAnothers(record) ? record.maker : titleOf(record);
  item.append(element("p", title, "queue-title"));
  const times = [WORDS.madeAt(clockTime(record.made_ms))];
  if (!isAnothers(record)) times.unshift(decodeURIComponent(record.shipment.replaceAll("~", "%")));
  if (record.state === "done") times.push(WORDS.sentAt(clockTime(record.settled_ms)));
  item.append(element("p", times.join(" · "), "meta"));
  const words = said(record);
  if (words) item.append(element("p", words));
  if (record.state !== "done") item.append(acts(record, title));
  return item;
}

function acts(record, title) {
  const box = element("div", "", "acts");
  if (record.state === "refused" && !isAnothers(record)) box.append(button(WORDS.retry, title, () => outbox.retry(record.id)));
  const remove = button(WORDS.remove, title, () => {
    box.replaceChildren(element("p", WORDS.removeAsk), button(WORDS.removeSure, title, () => outbox.remove(record.id)), button(WORDS.keep, title, show));
    box.querySelector("button").focus();
  });
  box.append(remove);
  return box;
}

let shownAs = "";
async function show() {
  const listed = await Promise.all(PARTS.map(([state]) => outbox.list(state, MOST)));
  const found = listed.map((records) => records.filter((record) => record.state !== "done" || !isAnothers(record)));
  const mark = JSON.stringify(found.map((records) => records.map(({ id, state, why, failures }) => [id, state, why, failures])));
  if (mark === shownAs && document.activeElement?.closest(".queue-row .acts p ~ button")) return;
  shownAs = mark;
  PARTS.forEach(([, part], n) => {
    const section = document.getElementById(part);
    section.hidden = !found[n].length;
    section.querySelector(".n").textContent = found[n].length;
    section.querySelector("ol").replaceChildren(...found[n].map(row));
  });
  document.getElementById("empty").hidden = found.some((records) => records.length);
}

document.getElementById("send-now").addEventListener("click", () => outbox.wake());
outbox.addEventListener("change", show);
show();
