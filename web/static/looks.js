// Which of the codes that a live picture shows are believed, and which labels stay unread. One look is enough for an SSCC
// with its check digit and for a code of the manifest; anything else has to be seen twice (decoders misread parts of
// labels as other symbols). Codes 39, ITF and EAN that the manifest does not know are never believed: those misread most.
import { codeOf, hasCheckDigit, matchOnPhone } from "./matching.js";

const AGAIN_MS = 3000;
const STAYS_MS = 1200;
const GONE_AFTER = 4; // searches of the picture that find it no more: a slow phone searches seldom
const APART_MS = 1000;
const DOUBTED = new Set(["A", "I", "E"]); // Code 39, ITF, EAN/UPC (ISO/IEC 15424)

export class Looks {
  #seen = new Map(); // carton, or text where the phone knows none -> {at, counted}
  #unread = []; // [{corners, since, at, missed, sent, answer}]
  #sent_ms = -APART_MS;
  get tracks() { return this.#unread; }


  constructor(sheet) { this.sheet = sheet; }

  // {state, carton, first} of one decoded text: state is counted, already, known, doubt
  look(text, now) {
    const match = matchOnPhone(text, this.sheet);
    const key = match ? `carton ${match.carton}` : text; // a label carries several codes of one carton
    const before = this.#seen.get(key);
    const surely = match || (hasCheckDigit(codeOf(text)) && codeOf(text).length === 18);
    const twice = before && now - before.at < AGAIN_MS && !DOUBTED.has(text[1]);
    const counts = Boolean(surely || twice || before?.counted);
    this.#seen.set(key, { at: now, counted: counts });
    if (!counts) return { state: "doubt" };
    const state = before?.counted ? "known" : match?.here ? "already" : "counted";
    return { state, match };
  }

  // Follows the regions that a search found to look like a label and that are not read; gives one that is due. A label that has another code read near
  // by is read. A track is due once, when it has stayed for a while, and not more often than a service can answer.
  unread(regions, readCorners, now) {
    const read = readCorners.map(around);
    for (const corners of regions) {
      if (read.some((box) => overlap(box, boxOf(corners)))) continue;
      const same = this.#unread.find((each) => overlap(around(each.corners), boxOf(corners))); // a label has several codes
      if (same) Object.assign(same, { corners: larger(corners, same.at === now ? same.corners : corners), at: now, missed: -1 });
      else this.#unread.push({ corners, since: now, at: now, missed: -1, sent: false, answer: null });
    }
    for (const each of this.#unread) each.missed += 1;
    this.#unread = this.#unread.filter((each) => each.missed < GONE_AFTER && !read.some((box) => overlap(box, boxOf(each.corners))));
    const due = this.#unread.find((each) => !each.sent && each.at === now && now - each.since > STAYS_MS && now - this.#sent_ms > APART_MS);
    if (due) { due.sent = true; this.#sent_ms = now; }
    return due;
  }
}

function larger(one, two) {
  const size = (corners) => { const { left, top, right, bottom } = boxOf(corners); return (right - left) * (bottom - top); };
  return size(one) < size(two) ? two : one;
}

// What a code that was read speaks for: itself, and once its own size on every side.
function around(corners) {
  const { left, top, right, bottom } = boxOf(corners);
  const size = Math.max(right - left, bottom - top) / (right - left > 2 * (bottom - top) ? 2 : 1);
  return { left: left - size / 2, top: top - size, right: right + size / 2, bottom: bottom + size };
}

export function boxOf(corners) {
  const xs = corners.map(([x]) => x);
  const ys = corners.map(([, y]) => y);
  return { left: Math.min(...xs), top: Math.min(...ys), right: Math.max(...xs), bottom: Math.max(...ys) };
}

function overlap(a, b) {
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
