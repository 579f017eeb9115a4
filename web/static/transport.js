// One record to the server, and what its answer means. A record is received only when our server says so: JSON that
// names the very id. Whatever else comes back (login page, redirect, error page of a proxy) leaves the record here.

export const SERVICE = "receiving";
const SMALL_MS = 30_000;
const FILES_MS = 180_000;

const ALONE = new Set([400, 404, 405, 413, 415, 500]); // a list of records is what was not taken: send them one by one

let token = "";

// Asks the service for the token of this browser and for its time: {offset_ms}, or {verdict} why it did not answer.
export async function greet() {
  const asked_ms = Date.now();
  const answer = await ask("/signal", { cache: "no-store" }, SMALL_MS);
  const { body } = answer;
  if (body?.service !== SERVICE || typeof body.token !== "string") return { verdict: foreign(answer) };
  token = body.token;
  return { offset_ms: Math.round(body.now_ms - (asked_ms + Date.now()) / 2) };
}

// {state: "done", answer} | {state: "refused", problem} | {state: "keep", why, everywhere, problem?}
export async function send(record, files) {
  for (const last of [false, true]) {
    if (!token) {
      const { verdict } = await greet();
      if (verdict) return verdict;
    }
    const verdict = await post(record, files);
    if (verdict.why !== "token") return verdict;
    token = ""; // it was made anew, by another tab or since the cookie went: ask for it once
    if (last) return { state: "keep", why: "sign-in", everywhere: true };
  }
}

// Several records without files in one request: {verdicts}, one for each that was answered, in order; or {verdict} for all;
// or {alone} where the list itself was not taken.
export async function sendSeveral(records) {
  for (const last of [false, true]) {
    if (!token) {
      const { verdict } = await greet();
      if (verdict) return { verdict };
    }
    const actions = records.map((record) => ({ ...listed(record), made_by: makerOf(record) }));
    const headers = { "Content-Type": "application/json", "X-Token": token, Accept: "application/json" };
    const answer = await ask("/actions", { method: "POST", body: JSON.stringify({ actions }), headers }, SMALL_MS);
    if (answer.body?.service === SERVICE && Array.isArray(answer.body.answers)) {
      return { verdicts: answer.body.answers.map((body, n) => verdictOf({ ...answer, body }, records[n])) };
    }
    if (ALONE.has(answer.status)) return { alone: true };
    if (answer.status !== 403 || last) return { verdict: foreign(answer) };
    token = ""; // it was made anew, by another tab or since the cookie went: ask for it once
  }
}

function listed({ id, url, made_at, fields }) {
  return { id, url, made_at, fields };
}

// Whose account was signed in when it was made: another one's, who signed in at this phone since, does not take it.
function makerOf({ maker = "" }) {
  return encodeURIComponent(maker);
}

async function post(record, files) {
  // Without files as a line of fields: a fifth of what a scan costs the service went into taking parts asunder.
  const form = files.length ? new FormData() : new URLSearchParams();
  for (const [name, value] of record.fields) form.append(name, files.length ? value : asInParts(value));
  for (const { field, name, blob } of files) form.append(field, blob, name);
  const headers = { "X-Action": record.id, "X-Made-At": record.made_at, "X-Made-By": makerOf(record), "X-Token": token, Accept: "application/json" };
  const answer = await ask(record.url, { method: "POST", body: form, headers }, files.length ? FILES_MS : SMALL_MS);
  return verdictOf(answer, record);
}

// Line ends as a form in parts has them, so that a record says the same however it is sent.
function asInParts(value) {
  return String(value).replace(/\r\n|\r|\n/g, "\r\n");
}

function verdictOf(answer, record) {
  const { body } = answer;
  if (body?.service !== SERVICE || body.action !== record?.id) return foreign(answer);
  if (body.state === "done" && answer.status < 300) return { state: "done", answer: body };
  if (body.state === "refused") return { state: "refused", problem: body.problem };
  return { state: "keep", why: body.why ?? "trouble", everywhere: body.why === "host", problem: body.problem, failed: body.why === "failed" };
}

// The answer of whoever answered: {status, redirected, body}; body only where it is JSON; status 0 without an answer.
export async function ask(url, options, limit_ms) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), limit_ms);
  try {
    const response = await fetch(url, { ...options, redirect: "manual", signal: stop.signal });
    if (response.type === "opaqueredirect") return { status: 302, redirected: true };
    const isJson = /^application\/json\b/.test(response.headers.get("Content-Type") ?? "");
    return { status: response.status, redirected: false, body: isJson ? await response.json() : undefined };
  } catch (fault) {
    return { status: fault instanceof SyntaxError ? 200 : 0, redirected: false };
  } finally {
    clearTimeout(timer);
  }
}

function foreign({ status, redirected }) {
  const keep = (why, everywhere) => ({ state: "keep", why, everywhere });
  if (status === 0) return keep("signal", true);
  if (redirected || status === 401 || status === 403 || status === 407 || status === 511) return keep("sign-in", true);
  if (status === 413) return keep("too-large", false);
  if (status >= 500 || status === 408 || status === 429) return keep("trouble", false);
  if (status >= 200 && status < 300) return keep("sign-in", true);
  return keep("foreign", false);
}
