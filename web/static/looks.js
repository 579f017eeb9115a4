// Which of the codes that a live picture shows are believed, and which labels stay unread. One look is enough for an SSCC
// with its check digit and for a code of the manifest; anything else has to be seen twice (decoders misread parts of
// labels as other symbols). Codes 39, ITF and EAN that the manifest does not know are never believed: those misread most.
import { codeOf, hasCheckDigit, matchOnPhone } from "./matching.js";

const AGAIN_MS = 3000;
const STAYS_MS = 1500;
const GONE_MS = 800;
const DOUBTED = new Set(["A", "I", "E"]); // Code 39, ITF, EAN/UPC (ISO/IEC 15424)

export class Looks {
  #seen = new Map(); // carton, or text where the phone knows none -> {at, counted}
  #unread = []; // [{corners, since, at, sent}]

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

  // The regions that look like a label and have stayed unread for a while: each is given once.
  unread(regions, readCorners, now) {
    for (const corners of regions) {
      if (readCorners.some((read) => overlap(read, corners))) continue;
      const same = this.#unread.find((each) => overlap(each.corners, corners));
      if (same) Object.assign(same, { corners, at: now });
      else this.#unread.push({ corners, since: now, at: now, sent: false });
    }
    this.#unread = this.#unread.filter((each) => now - each.at < GONE_MS && !readCorners.some((read) => overlap(read, each.corners)));
    const due = this.#unread.filter((each) => !each.sent && now - each.since > STAYS_MS);
    for (const each of due) each.sent = true;
    return due.map(({ corners }) => corners);
  }
}

export function boxOf(corners) {
  const xs = corners.map(([x]) => x);
  const ys = corners.map(([, y]) => y);
  return { left: Math.min(...xs), top: Math.min(...ys), right: Math.max(...xs), bottom: Math.max(...ys) };
}

function overlap(one, two) {
  const a = boxOf(one);
  const b = boxOf(two);
  return a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom;
}
