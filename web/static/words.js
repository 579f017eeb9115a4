// Every word of the scripts that a person reads, in one place, so that it can be translated.

export const KINDS = {
  scan: (n) => plural(n, "scan"),
  photo: (n) => plural(n, "photo"),
  crop: (n) => plural(n, "label picture"),
  note: (n) => plural(n, "note"),
  answer: (n) => plural(n, "answer"),
  undo: (n) => plural(n, "undo", "undos"),
  damage: (n) => plural(n, "damage report"),
  count: (n) => plural(n, "count"),
  place: (n) => plural(n, "place"),
  search: (n) => plural(n, "searched place"),
  short: (n) => plural(n, "carton declared short", "cartons declared short"),
  moved: (n) => plural(n, "carton at its bay", "cartons at their bay"),
  plan: (n) => plural(n, "plan change"),
  confirmation: (n) => plural(n, "confirmation"),
  list: (n) => plural(n, "scan list"),
};

const TITLES = {
  scan: "Scan", photo: "Photo", crop: "Label picture", note: "Note", answer: "Answer", undo: "Undo", damage: "Damage", count: "Count",
  place: "Place", search: "Looked for, not there", short: "Declared short", moved: "At its bay", plan: "Plan change", confirmation: "Confirmation", list: "Scan list",
};

export function plural(n, one, many = `${one}s`) {
  return `${n} ${n === 1 ? one : many}`;
}

export function listed(parts) {
  return parts.length < 2 ? parts.join("") : `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}`;
}

// {scan: 2, photo: 1} -> "2 scans and 1 photo"
export function counted(counts) {
  return listed(Object.entries(KINDS).filter(([kind]) => counts[kind]).map(([kind, words]) => words(counts[kind])));
}

export function titleOf({ kind, about }) {
  return about ? `${TITLES[kind] ?? kind} · ${about}` : TITLES[kind] ?? kind;
}

// Why records wait, and what to do: one sentence each.
export function whyWords(code, { waiting = "" } = {}) {
  const wait = waiting && ` ${waiting} wait${/^1 \D+$/.test(waiting) ? "s" : ""} on this phone.`;
  switch (code) {
    case "signal": return `No signal.${wait} Sent when it is back.`;
    case "sign-in": return `Sign in again.${wait} Open the start page, sign in, and it goes on by itself.`;
    case "foreign": return `Something between this phone and the service answered.${wait} Check the network, then try again.`;
    case "too-large": return `A server on the way takes nothing this large.${wait} Tell whoever runs it; nothing is lost.`;
    case "trouble": return `The service cannot take it now.${wait} It is tried again by itself.`;
    case "host": return `The service does not answer to this address.${wait} Open it by the address on its sign.`;
    case "failed": return "The service failed at this one several times. The others went on; try it again or tell support.";
    case "full": return "This phone is full: nothing more can be stored on it. Free some space, then do it again.";
    default: return waiting ? `${waiting} wait on this phone.` : "";
  }
}

export const WORDS = {
  sending: (what) => `Sending ${what} …`,
  noSignal: "No signal. What you do is stored on this phone.",
  state: (made, waiting) => `${made} on this phone, ${waiting} waiting`,
  here: "Here",
  already: "Already seen",
  seen: "Seen",
  again: "Once more",
  closer: "Closer",
  asked: "Sent",
  progress: (here, all, missing) => `${here} of ${all} here${missing.length ? ` · next: ${missing.join(", ")}` : ""}`,
  cameraSmall: "This camera gives a small picture: go closer",
  cameraRefused: (name) => (name === "NotAllowedError"
    ? "The camera was refused. Allow it for this page in the browser's settings (the sign beside the address), or take photos instead."
    : name === "NotFoundError" ? "This device has no camera. Take photos with another one, or scan." : "The camera cannot be used now: another app may hold it. Close that, then open it again."),
  overhead: "Overhead: ask store management to bring it down; do not climb.",
  crop: "A label that was not read",
  cropStored: "Label picture stored",
  byPhone: "The service confirms it.",
  alreadyHere: "Already seen, as far as this phone knows",
  toBay: (bay) => `To bay ${bay}`,
  since: "Done on this phone since these counts were made, and confirmed with them:",
  sinceUnknown: (n) => `${plural(n, "entry", "entries")} of this phone may change the counts: if so, they have to be confirmed again.`,
  problem: "There is a problem",
  openFirst: "Open this one first",
  differs: (here, there) => `This phone took it for carton ${here}; the service says: ${there}. The service is right.`,
  refusedSome: (n) => `${plural(n, "entry was", "entries were")} refused`,
  seeQueue: "See the list",
  checking: "Checking …",
  stored: "Stored",
  notStored: "Not stored",
  notSentSignal: "Not sent: the service does not answer. What you typed and ticked stays here; send it again when there is a connection.",
  notSentSession: "Not sent: you are signed out. What you typed and ticked stays here; sign in beside this page, then send it again.",
  signIn: "Sign in (opens beside this page)",
  boardOld: (when, signed_out) => (signed_out ? `You are signed out: the list is as it was at ${when}.` : `No connection: the list is as it was at ${when}.`),
  nameFirst: "Say who is receiving first, then scan it again.",
  storedSentence: "It is sent when the signal is back.",
  storedHere: (title) => `${title}: stored on this phone, sent when the signal is back.`,
  photosStored: (n) => (n === 1 ? "Photo stored" : `${n} photos stored`),
  photosSentence: "It is read in the background; go on.",
  noCost: "No signal: the cost cannot be worked out now.",
  working: "Working it out …",
  close: "Close this answer",
  undo: "Undo",
  undone: "Taken back before it was sent.",
  retry: "Try again",
  remove: "Delete",
  removeSure: "Delete for good",
  removeAsk: "It was not received. Delete it from this phone?",
  keep: "Leave it",
  waiting: "Waiting",
  refused: "Refused",
  done: "Received",
  nothingWaits: "Nothing waits on this phone.",
  nothingYet: "Nothing was done on this phone yet.",
  madeAt: (when) => `made ${when}`,
  sentAt: (when) => `received ${when}`,
  silentOn: "Silent",
  silentOff: "Sound on",
  memoryOnly: "This browser stores nothing (private window): what waits is lost when the page is closed.",
  waitsHere: (n) => `${plural(n, "entry", "entries")} of this page wait${n === 1 ? "s" : ""} on this phone`,
};

export function clockTime(ms) {
  const when = new Date(ms);
  const today = when.toDateString() === new Date().toDateString();
  return when.toLocaleString(undefined, today ? { timeStyle: "short" } : { dateStyle: "medium", timeStyle: "short" });
}
