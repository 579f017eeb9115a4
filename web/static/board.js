// The board stays in step with what is stored: its rows are swapped one by one, and nothing that a person does moves.
import { isOurs } from "./ours.js";
import { clockTime } from "./language.js";
import { WORDS } from "./words.js";

const EVERY_MS = 400;
const SLOWEST_MS = 15000;
const OLD_MS = 3000;
let pause = EVERY_MS;
let shown_ms = Date.now(); // when the board was last known to be as it is stored

async function step() {
  const board = document.getElementById("board");
  if (board && document.visibilityState === "visible") {
    try {
      await ask(board);
      pause = EVERY_MS;
      shown_ms = Date.now();
      document.getElementById("old")?.remove();
    } catch (fault) {
      pause = Math.min(pause * 2, SLOWEST_MS);
      if (Date.now() - shown_ms > OLD_MS) tellOld(board, fault.message === "401");
    }
  }
  setTimeout(step, pause);
}

// One request: nothing comes back while nothing changed.
async function ask(board) {
  const page = await fetch(location.href, { headers: { "X-Part": "board", "If-None-Match": `"${board.dataset.version}"` }, cache: "no-store", redirect: "manual" });
  if (page.status === 304) return;
  if (!isOurs(page)) throw new Error(String(page.status));
  const fresh = new DOMParser().parseFromString(await page.text(), "text/html");
  for (const id of ["notices", "found"]) document.getElementById(id)?.replaceChildren(...(fresh.getElementById(id)?.childNodes ?? []));
  put(board, fresh.getElementById("board"));
}

// A board that cannot be kept in step says so, and since when.
function tellOld(board, signed_out) {
  let line = document.getElementById("old");
  if (!line) {
    line = Object.assign(document.createElement("p"), { id: "old", className: "notice question" });
    line.setAttribute("role", "status");
    board.before(line);
  }
  const words = WORDS.boardOld(clockTime(shown_ms), signed_out);
  if (line.dataset.words === words) return;
  line.dataset.words = words;
  line.textContent = words;
  if (signed_out) line.append(" ", Object.assign(document.createElement("a"), { href: "/sign-in", target: "_blank", textContent: WORDS.signIn }));
}

// Rows keep their checkbox and the focus; the row at the top of the window stays where it is.
function put(board, fresh) {
  const chosen = new Set(boxes().filter((box) => box.checked).map((box) => box.value));
  const focused = board.contains(document.activeElement) ? document.activeElement.closest("tr")?.id : "";
  const anchor = [...board.querySelectorAll("tbody tr")].find((row) => row.getBoundingClientRect().bottom > 0);
  const before = anchor?.getBoundingClientRect().top;
  board.replaceChildren(...fresh.childNodes);
  board.dataset.version = fresh.dataset.version;
  for (const box of boxes()) box.checked = chosen.has(box.value);
  count();
  const moved = anchor && document.getElementById(anchor.id);
  if (moved) window.scrollBy(0, moved.getBoundingClientRect().top - before);
  if (focused) document.getElementById(focused)?.querySelector("a, input")?.focus({ preventScroll: true });
}

const boxes = () => [...document.querySelectorAll("#board input[name=shipment]")];

// What is done with the chosen ones comes up once there are some; without scripts it stands below the list.
function count() {
  const number = boxes().filter((box) => box.checked).length;
  const form = document.getElementById("bulk");
  const all = document.getElementById("all");
  if (all) {
    all.hidden = false;
    all.checked = number > 0 && number === boxes().length;
    all.indeterminate = number > 0 && !all.checked;
  }
  if (!form) return;
  form.hidden = number === 0;
  form.classList.toggle("some", number > 0);
  document.getElementById("chosen").textContent = WORDS.chosen(number);
}

document.addEventListener("change", (event) => {
  if (event.target.id === "all") for (const box of boxes()) box.checked = event.target.checked;
  if (event.target.closest("#board")) count();
});
count();
setTimeout(step, EVERY_MS);
