// Keeps the open page in step: asks every second for what changed since its version, and swaps only changed parts.
import { isOurs } from "./ours.js";

const EVERY_MS = 1000;
const SLOWEST_MS = 8000;

// onSignal(true) when the server answered, onSignal(false) when it did not.
export function follow(live, { onSignal }) {
  let etag = `"${live.querySelector("[data-version]").dataset.version}"`;
  const served = new Map([...live.children].map((part) => [part.id, part.innerHTML]));
  let pause = EVERY_MS;
  let timer = 0;
  let asking = false;
  let again = false;
  let asked_ms = 0;
  let held = { mark: "", lines: [] };

  // One question at a time, and not more than one a second however often something was sent meanwhile.
  async function ask() {
    clearTimeout(timer);
    if (asking) { again = true; return; }
    asking = true;
    if (document.visibilityState === "visible") {
      try {
        await once();
        onSignal(true);
        pause = EVERY_MS;
      } catch {
        onSignal(false);
        pause = Math.min(pause * 2, SLOWEST_MS);
      }
    }
    asking = false;
    timer = setTimeout(ask, again ? EVERY_MS : pause);
    again = false;
  }

  // Soon, for what was just done here; what is done right after it is shown together with it.
  function soon() {
    if (asking) { again = true; return; }
    clearTimeout(timer);
    timer = setTimeout(ask, Date.now() - asked_ms > EVERY_MS ? 0 : EVERY_MS);
  }

  async function once() {
    asked_ms = Date.now();
    const headers = { "X-Part": "live", "If-None-Match": etag, ...(held.mark && { "X-Held": held.mark }) };
    const part = await fetch(live.dataset.live, { headers, cache: "no-store", redirect: "manual" });
    if (part.status === 304) return;
    if (!isOurs(part)) throw new Error("not our service");
    const before = held;
    held = { mark: "", lines: [] };  // asked for whole where this one cannot be put together
    held = await received(part, before);
    if (swap(live, served, held.lines.join("\n"))) etag = part.headers.get("ETag");
  }

  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && ask());
  timer = setTimeout(ask, EVERY_MS);
  return { now: soon };
}

// The lines of the part and their mark: sent whole, or as runs of the lines held before with the new ones between.
async function received(part, before) {
  if (!part.headers.get("Content-Type")?.startsWith("application/json")) {
    return { mark: part.headers.get("X-Mark") ?? "", lines: (await part.text()).split("\n") };
  }
  const { mark, pieces, lines: count } = await part.json();
  const lines = pieces.flatMap((piece) =>
    typeof piece === "string" ? piece.split("\n") : before.lines.slice(piece[0], piece[0] + piece[1]));
  if (lines.length !== count) throw new Error("what changed does not fit what is held");
  return { mark, lines };
}

// True when every part is as the server sent it; false when one waits because somebody types in it.
function swap(live, served, html) {
  const fresh = document.createElement("template");
  fresh.innerHTML = html;
  let whole = true;
  for (const part of [...fresh.content.children]) {
    const old = document.getElementById(part.id);
    const text = part.innerHTML;
    if (old && served.get(part.id) === text && old.className === part.className) continue;
    if (old && isTyping(old)) { whole = false; continue; }
    served.set(part.id, text);
    if (old) replace(old, part);
    else live.append(part);
  }
  return whole;
}

// A field that holds the focus and was changed is left alone; its part is swapped once the field is left.
function isTyping(part) {
  const active = document.activeElement;
  return part.contains(active) && active.matches("input, textarea, select") && active.value !== active.defaultValue;
}

function replace(old, part) {
  const open = new Map([...old.querySelectorAll("details[id]")].map((details) => [details.id, details.open]));
  const path = old.contains(document.activeElement) ? pathTo(old, document.activeElement) : null;
  for (const details of part.querySelectorAll("details[id]")) {
    if (open.has(details.id)) details.open = open.get(details.id);
  }
  old.replaceWith(part);
  if (path) focusAgain(part, path);
}

// What a focused link or button is, so that its successor can be focused: address or accessible name, then position.
function pathTo(part, element) {
  return { href: element.getAttribute("href"), name: element.textContent.trim(), tag: element.localName,
           index: [...part.querySelectorAll(element.localName)].indexOf(element) };
}

function focusAgain(part, { href, name, tag, index }) {
  const same = [...part.querySelectorAll(tag)];
  const next = same.find((each) => href !== null && each.getAttribute("href") === href)
    ?? same.find((each) => each.textContent.trim() === name) ?? same[Math.min(index, same.length - 1)];
  (next ?? document.getElementById("main")).focus({ preventScroll: true });
}
