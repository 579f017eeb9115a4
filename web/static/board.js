// The board stays in step with what is stored: its rows are swapped one by one, and nothing that a person does moves.
import { isOurs } from "./ours.js";

const EVERY_MS = 400;
const SLOWEST_MS = 15000;
let pause = EVERY_MS;

async function step() {
  const board = document.getElementById("board");
  if (board && document.visibilityState === "visible") {
    try {
      await ask(board);
      pause = EVERY_MS;
    } catch {
      pause = Math.min(pause * 2, SLOWEST_MS);
    }
  }
  setTimeout(step, pause);
}

// One request: nothing comes back while nothing changed.
async function ask(board) {
  const page = await fetch(location.href, { headers: { "X-Part": "board", "If-None-Match": `"${board.dataset.version}"` }, cache: "no-store", redirect: "manual" });
  if (page.status === 304) return;
  if (!isOurs(page)) throw new Error("not our service");
  const fresh = new DOMParser().parseFromString(await page.text(), "text/html");
  for (const id of ["notices", "found"]) document.getElementById(id)?.replaceChildren(...(fresh.getElementById(id)?.childNodes ?? []));
  put(board, fresh.getElementById("board"));
}
// Rows keep their checkbox and the focus; the row at the top of the window stays where it is.
function put(board, fresh) {
  const chosen = new Set([...board.querySelectorAll("input:checked")].map((box) => box.value));
  const focused = board.contains(document.activeElement) ? document.activeElement.closest("tr")?.id : "";
  const anchor = [...board.querySelectorAll("tbody tr")].find((row) => row.getBoundingClientRect().bottom > 0);
  const before = anchor?.getBoundingClientRect().top;
  board.replaceChildren(...fresh.childNodes);
  board.dataset.version = fresh.dataset.version;
  for (const box of board.querySelectorAll("input[type=checkbox]")) box.checked = chosen.has(box.value);
  const moved = anchor && document.getElementById(anchor.id);
  if (moved) window.scrollBy(0, moved.getBoundingClientRect().top - before);
  if (focused) document.getElementById(focused)?.querySelector("a, input")?.focus({ preventScroll: true });
}

setTimeout(step, EVERY_MS);
