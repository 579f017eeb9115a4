// Every word of the scripts that a person reads, in one place. tests/language/catalogues.py finds the templates here, so
// each stands as it is in a call of message or plural.
import { listed, message, plural } from "./language.js";

const KINDS = {
  scan: (n) => plural(n, "{number} scan", "{number} scans"),
  photo: (n) => plural(n, "{number} photo", "{number} photos"),
  crop: (n) => plural(n, "{number} label picture", "{number} label pictures"),
  note: (n) => plural(n, "{number} note", "{number} notes"),
  answer: (n) => plural(n, "{number} answer", "{number} answers"),
  undo: (n) => plural(n, "{number} undo", "{number} undos"),
  damage: (n) => plural(n, "{number} damage report", "{number} damage reports"),
  count: (n) => plural(n, "{number} count", "{number} counts"),
  place: (n) => plural(n, "{number} place", "{number} places"),
  search: (n) => plural(n, "{number} searched place", "{number} searched places"),
  short: (n) => plural(n, "{number} carton declared short", "{number} cartons declared short"),
  moved: (n) => plural(n, "{number} carton at its bay", "{number} cartons at their bay"),
  plan: (n) => plural(n, "{number} plan change", "{number} plan changes"),
  confirmation: (n) => plural(n, "{number} confirmation", "{number} confirmations"),
  list: (n) => plural(n, "{number} scan list", "{number} scan lists"),
};

const TITLES = {
  scan: message("Scan"),
  photo: message("Photo"),
  crop: message("Label picture"),
  note: message("Note"),
  answer: message("Answer"),
  undo: message("Undo"),
  damage: message("Damage"),
  count: message("Count"),
  place: message("Place"),
  search: message("Looked for, not there"),
  short: message("Declared short"),
  moved: message("At its bay"),
  plan: message("Plan change"),
  confirmation: message("Confirmation"),
  list: message("Scan list"),
};

export const total = (counts) => Object.values(counts).reduce((sum, n) => sum + n, 0);

// {scan: 2, photo: 1} -> "2 scans and 1 photo"
export function counted(counts) {
  return listed(Object.entries(KINDS).filter(([kind]) => counts[kind]).map(([kind, words]) => words(counts[kind])));
}

export function titleOf({ kind, about }) {
  return about ? `${TITLES[kind] ?? kind} · ${about}` : TITLES[kind] ?? kind;
}

const WHY = {
  signal: [message("No signal."), message("Sent when it is back.")],
  "sign-in": [message("Sign in again."), message("Open the start page, sign in, and it goes on by itself.")],
  person: [message("Somebody else made this on this phone."), message("It is sent once that person signs in here again.")],
  foreign: [message("Something between this phone and the service answered."), message("Check the network, then try again.")],
  "too-large": [message("A server on the way accepts nothing this large."), message("Tell whoever runs it; nothing is lost.")],
  trouble: [message("The service cannot accept it now."), message("It is tried again by itself.")],
  host: [message("The service does not answer to this address."), message("Open it by the address on its sign.")],
};
const ALONE = {
  failed: message("The service failed at this one several times. The others went through; try it again or tell support."),
  full: message("This phone is full: nothing more can be stored on it. Free some space, then do it again."),
};

// Why records wait, and what to do: one sentence each. waiting: how many of each kind wait.
export function whyWords(code, { waiting = {} } = {}) {
  if (code in ALONE) return ALONE[code];
  const number = total(waiting);
  const wait = number ? plural(number, "{things} waits on this phone.", "{things} wait on this phone.", { things: counted(waiting) }) : "";
  const [what = "", next = ""] = WHY[code] ?? [];
  return [what, wait, next].filter(Boolean).join(" ");
}

export const WORDS = {
  sending: (things) => message("Sending {things} …", { things }),
  state: (made, waiting) => message("{made} on this phone, {waiting} waiting", { made, waiting }),
  here: message("Here"),
  already: message("Already seen"),
  seen: message("Seen"),
  again: message("Once more"),
  closer: message("Closer"),
  asked: message("Sent"),
  progress: (here, all, missing) => (missing.length
    ? message("{here} of {all} here · next: {cartons}", { here, all, cartons: missing.join(", ") })
    : message("{here} of {all} here", { here, all })),
  cameraSmall: message("This camera gives a small picture: go closer"),
  cameraRefused: (name) => (name === "NotAllowedError"
    ? message("The camera was refused. Allow it for this page in the browser's settings (the icon beside the address), or take photos instead.")
    : name === "NotFoundError"
      ? message("This device has no camera. Take photos with another one, or scan.")
      : message("The camera cannot be used now: another app may hold it. Close that, then open it again.")),
  overhead: message("Overhead: ask store management to bring it down; do not climb."),
  crop: message("A label that was not read"),
  cropStored: message("Label picture stored"),
  byPhone: message("The service confirms it."),
  alreadyHere: message("Already seen, as far as this phone knows"),
  toBay: (bay) => message("To bay {bay}", { bay }),
  since: message("Done on this phone since these counts were made, and confirmed with them:"),
  sinceUnknown: (n) => plural(n, "{number} entry of this phone may change the counts: if so, they have to be confirmed again.",
    "{number} entries of this phone may change the counts: if so, they have to be confirmed again."),
  problem: message("There is a problem"),
  openFirst: message("Open this one first"),
  differs: (carton, said) => message("This phone took it for carton {carton}; the service says: {said}. The service is right.", { carton, said }),
  refusedSome: (n) => plural(n, "{number} entry was refused.", "{number} entries were refused."),
  checking: message("Checking …"),
  stored: message("Stored"),
  notStored: message("Not stored"),
  notSentSignal: message("Not sent: the service does not answer. What you typed and ticked stays here; send it again when there is a connection."),
  notSentSession: message("Not sent: you are signed out. What you typed and ticked stays here; sign in beside this page, then send it again."),
  signIn: message("Sign in (opens beside this page)"),
  notSigned: message("Nobody has signed. Sign below with a finger, or give a PIN."),
  boardOld: (when, signed_out) => (signed_out
    ? message("You are signed out: the list is as it was at {when}.", { when })
    : message("No connection: the list is as it was at {when}.", { when })),
  chosen: (n) => plural(n, "{number} shipment chosen", "{number} shipments chosen"),
  nameFirst: message("Say who is receiving first, then scan it again."),
  storedSentence: message("It is sent when the signal is back."),
  storedHere: (title) => message("{title}: stored on this phone, sent when the signal is back.", { title }),
  photosStored: (n) => (n === 1 ? message("Photo stored") : plural(n, "{number} photo stored", "{number} photos stored")),
  photosSentence: message("It is read in the background; go on."),
  noCost: message("No signal: the cost cannot be worked out now."),
  working: message("Working it out …"),
  retry: message("Try again"),
  remove: message("Delete"),
  removeSure: message("Delete for good"),
  removeAsk: message("It was not received. Delete it from this phone?"),
  keep: message("Leave it"),
  about: (words, title) => message("{words}: {title}", { words, title }),
  madeAt: (when) => message("made {when}", { when }),
  sentAt: (when) => message("received {when}", { when }),
  memoryOnly: message("This browser stores nothing (private window): what waits is lost when the page is closed."),
  reading: (seconds, megabytes) => (megabytes
    ? message("Sending and reading the file ({megabytes} MB): {seconds} s. A long one takes up to a minute or two.", { megabytes, seconds })
    : message("Sending and reading the file: {seconds} s. A long one takes up to a minute or two.", { seconds })),
  signedInLongAgo: message("You signed in some time ago. Open this page anew and sign in again."),
  noPasskey: message("No passkey was given. Try once more, or use your password."),
  languageLater: message("No signal: the language can be changed when it is back."),
};
