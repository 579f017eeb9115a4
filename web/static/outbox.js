// Everything that a person does goes through here: written to the phone first, sent in the order in which it was made,
// and marked received only when the server named its id. Shipments do not wait for each other, nor small for large.
import { DONE, Database, REFUSED, WAITING } from "./database.js";
import { Memory } from "./memory.js";
import { greet, send, sendSeveral } from "./transport.js";
import { uuid } from "./uuid.js";

const FIRST_PAUSE_MS = 2000;
const LONGEST_PAUSE_MS = 60_000;
// One tab sends at a time, or two would send the same record at once; a tab that is killed lets go by this lease.
const LEASE_MS = 12_000;
// When another tab holds the lease: asked again well before it can run out.
const RIVAL_MS = 3000;
const MOST_FAILURES = 5;
const TELL_MS = 150;
const CLOCK_MS = 5000; // a clock that differs by less was only put right
const SMALL = "a";
const LARGE = "b"; // photos that nothing waits for
const CROP = "c"; // small pictures, which are answered once they are read: scans do not wait for that
const SIZES = [SMALL, LARGE, CROP];
const TOGETHER = 25; // records of one request, where at least this many wait

class Outbox extends EventTarget {
  #tab = nameOfTab();
  #database = Database.open().catch(() => new Memory());
  #channel = "BroadcastChannel" in globalThis ? new BroadcastChannel("receiving-outbox") : null;
  #running = {}; // size -> whether it is being sent
  #again = {};
  #timers = {};
  #pauses = new Map(); // lane, or "" for all -> {ms, until}
  #offset_ms = null;
  #latest_ms = 0; // when the last record was made, by this phone's clock
  #telling = 0;
  #more = false;
  #sent = new Map(); // what became of records that this phone has no room to store or to mark
  #passed = new Map(); // id -> lane of what was answered, is still stored as waiting, and is passed over until a later round
  #dates = new Map(); // id -> made_at, where there was no room to store it: a repetition says the same
  #alone = false; // the service takes no list of records: they go one by one until the page is opened anew
  why = navigator.onLine ? "" : "signal";

  constructor() {
    super();
    this.#channel?.addEventListener("message", ({ data }) => this.#heard(data));
    addEventListener("online", () => this.#back());
    addEventListener("offline", () => this.#say({ why: "signal" }));
    addEventListener("pagehide", () => this.#leave());
    document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && this.wake());
  }

  async start() {
    const clock = await (await this.#database).read("clock");
    this.#offset_ms = clock?.offset_ms ?? null;
    this.#latest_ms = Math.max(clock?.latest_ms ?? 0, ...(await this.list(WAITING, 1)).map(({ made_ms }) => made_ms));
    this.changed();
    this.wake();
    if (navigator.onLine) await this.#meet();
  }

  // Writes an action to the phone and gives its record. fields: [[name, value]]; files: [{field, name, blob}].
  // Rejects where the phone cannot store it (full): the caller must say so and leave what was typed where it is.
  async add({ kind, url, fields, files = [], shipment = "", page = location.pathname, about = "", id = uuid(), large = false, local = null }) {
    const database = await this.#database;
    const size = kind === "crop" ? CROP : large ? LARGE : SMALL;
    const made_ms = Date.now();
    // Compared with the last record, since the offset itself cannot tell that the clock it was measured by was changed.
    if (made_ms < this.#latest_ms - CLOCK_MS) await this.#forgetClock(database);
    this.#latest_ms = made_ms;
    const maker = document.body.dataset.account ?? "";
    const made = {
      id, kind, url, fields, files: files.length, shipment, page, about, local, maker, made_ms, offset_ms: this.#offset_ms, made_at: "",
      lane: `${size}|${shipment}|${maker}`, state: WAITING, failures: 0, why: "", problem: null, answer: null, settled_ms: 0,
    };
    let record;
    try {
      record = await database.add(made, files);
    } catch (fault) {
      return this.#unstored(made, files, fault);
    }
    this.changed();
    this.#pauses.delete(record.lane);
    this.#pump(size);
    this.#channel?.postMessage({ what: "added", size });
    return record;
  }

  // The phone is full: with a signal a record is sent from this page all the same, else the caller hears of it. A browser
  // frees the room of what was sent in its own time (Chromium had not after a minute).
  async #unstored(record, files, fault) {
    if (!navigator.onLine || this.why) throw fault;
    const { dated, verdict: unmet } = await this.#date(await this.#database, record, { stored: false });
    const verdict = unmet ?? await send(dated, files);
    if (verdict.state === "keep") throw fault;
    const settled = { ...dated, ...settledBy(verdict) };
    this.#sent.set(record.id, settled);
    this.dispatchEvent(new CustomEvent("settled", { detail: settled }));
    this.#channel?.postMessage({ what: "settled", record: settled });
    return settled;
  }

  async list(state, most) {
    const stored = await (await this.#database).list(state, most);
    if (state !== DONE) return stored;
    const here = [...this.#sent.values()].filter((record) => record.state === DONE && !this.#passed.has(record.id));
    return [...here.reverse(), ...stored].slice(0, most);
  }
  async counts() { return (await this.#database).counts(); }
  async get(id) { return this.#sent.get(id) ?? (await this.#database).get(id); }
  async temporary() { return Boolean((await this.#database).temporary); }

  async remove(id) {
    const removed = await (await this.#database).remove(id);
    this.#sent.delete(id);
    this.changed();
    this.#channel?.postMessage({ what: "changed" });
    return removed;
  }

  async retry(id) {
    this.#sent.delete(id);
    await (await this.#database).change(id, { state: WAITING, failures: 0, why: "", problem: null });
    this.changed();
    this.wake();
  }

  // Waits for what becomes of a record, at most so long; its state then.
  async settled(id, ms) {
    const now = await this.get(id);
    if (!now || now.state !== WAITING) return now;
    return new Promise((resolve) => {
      const stop = (record) => {
        clearTimeout(timer);
        this.removeEventListener("settled", heard);
        resolve(record);
      };
      const heard = ({ detail }) => detail.id === id && stop(detail);
      const timer = setTimeout(async () => stop(await this.get(id)), ms);
      this.addEventListener("settled", heard);
    });
  }

  wake() {
    this.#pauses.clear();
    for (const size of SIZES) this.#pump(size);
  }

  // Tells the page at once, and then not more often than it can draw while a long queue is sent.
  changed() {
    if (this.#telling) { this.#more = true; return; }
    this.#telling = setTimeout(() => {
      this.#telling = 0;
      if (this.#more) this.changed();
    }, TELL_MS);
    this.#more = false;
    this.dispatchEvent(new Event("change"));
  }

  #heard(data) {
    if (data.what === "added") this.#pump(data.size);
    if (data.what === "why") this.why = data.why;
    if (data.what === "settled") this.dispatchEvent(new CustomEvent("settled", { detail: data.record }));
    this.changed();
  }

  #say({ why }) {
    if (why === this.why) return;
    this.why = why;
    this.#channel?.postMessage({ what: "why", why });
    this.changed();
  }

  async #leave() {
    for (const size of SIZES) if (this.#running[size]) (await this.#database).release(`sender ${size}`, this.#tab);
  }

  async #pump(size) {
    clearTimeout(this.#timers[size]);
    // Not started twice, but not forgotten either: what was added after the list of lanes was read is sent by another round.
    if (this.#running[size]) { this.#again[size] = true; return; }
    this.#running[size] = true;
    let next_ms = 0;
    try {
      do {
        this.#again[size] = false;
        next_ms = await this.#drain(size);
      } while (this.#again[size]);
    } catch {
      next_ms = FIRST_PAUSE_MS; // the database was closed under us, or the disk is full: try again
    } finally {
      this.#running[size] = false;
    }
    if (next_ms) this.#timers[size] = setTimeout(() => this.#pump(size), next_ms);
  }

  // Sends round by round, one record of each lane; gives after how many ms to try again, 0 when nothing is left.
  async #drain(size) {
    const database = await this.#database;
    const key = `sender ${size}`;
    for (let leased_ms = 0; ;) {
      const lanes = (await database.lanes()).filter((lane) => lane.startsWith(`${size}|`));
      if (!lanes.length) {
        await database.release(key, this.#tab);
        if (size === SMALL) this.#say({ why: navigator.onLine ? "" : "signal" });
        return 0;
      }
      const ready = lanes.filter((lane) => !this.#paused(lane));
      if (!ready.length) {
        await database.release(key, this.#tab);
        return this.#soonest(lanes);
      }
      for (const lane of ready) {
        if (this.#paused(lane)) continue;
        if (Date.now() - leased_ms > LEASE_MS / 3) {
          // Renewed at a third of its length: two renewals may be late, as on a phone that is busy, before another tab takes over.
          // A phone without any room stores no lease: it sends all the same, and what two tabs send is taken once.
          if (!(await database.lease(key, this.#tab, LEASE_MS).catch(() => true))) return RIVAL_MS;
          leased_ms = Date.now();
        }
        const several = size === SMALL && !this.#alone ? await database.several(lane, TOGETHER, this.#passed) : [];
        if (several.length > 1) { await this.#several(database, several); continue; }
        const next = await database.next(lane, this.#passed);
        if (next) await this.#one(database, next.record, next.files);
        else this.#passAgain(lane);
      }
    }
  }

  #paused(lane) { return [lane, ""].some((key) => (this.#pauses.get(key)?.until ?? 0) > Date.now()); }

  #soonest(lanes) {
    const of = (key) => Math.max(0, (this.#pauses.get(key)?.until ?? 0) - Date.now());
    return Math.max(50, of(""), Math.min(...lanes.map(of)));
  }

  #pause(key) {
    const before = this.#pauses.get(key)?.ms ?? FIRST_PAUSE_MS / 2;
    const ms = Math.min(before * 2, LONGEST_PAUSE_MS);
    // Spread by a fifth either way: all phones of a store lose their signal, or the service, at the same moment.
    this.#pauses.set(key, { ms, until: Date.now() + ms * (0.8 + 0.4 * Math.random()) });
  }

  async #one(database, record, files) {
    const { dated, verdict: unmet } = record.made_at ? { dated: record } : await this.#date(database, record);
    const verdict = unmet ?? (dated ? await send(dated, files) : null);
    if (!verdict) return; // a person deleted it meanwhile
    if (verdict.state === "keep") { await this.#keep(database, record, verdict); return; }
    await this.#settle(database, [[record, verdict]]);
  }

  // Several records of one lane in one request. Each is acknowledged by its own id; what comes after one that is not
  // taken now was not done either, and is sent again with it.
  async #several(database, records) {
    const dated = [];
    for (const record of records) {
      const found = record.made_at ? { dated: record } : await this.#date(database, record);
      if (found.verdict) { await this.#keep(database, record, found.verdict); return; }
      if (found.dated) dated.push(found.dated);
    }
    if (!dated.length) return;
    const { verdict, verdicts = [], alone = false } = await sendSeveral(dated);
    if (alone) { this.#alone = true; return; }
    const settled = verdicts.map((each, n) => [dated[n], each]).filter(([, each]) => each.state !== "keep");
    if (settled.length) await this.#settle(database, settled);
    const kept = verdicts.findIndex((each) => each.state === "keep");
    if (verdict || kept >= 0) await this.#keep(database, dated[Math.max(0, kept)], verdict ?? verdicts[kept]);
    else if (!settled.length) await this.#keep(database, dated[0], { state: "keep", why: "trouble" });
  }

  async #settle(database, pairs) {
    this.#pauses.delete("");
    this.#pauses.delete(pairs[0][0].lane);
    const all = await database.changeAll(pairs.map(([{ id }, verdict]) => [id, settledBy(verdict)])).then(
      (changed) => this.#marked(changed),
      () => this.#unmarked(database, pairs.map(([record, verdict]) => ({ ...record, ...settledBy(verdict) }))),
    );
    for (const settled of all) {
      this.dispatchEvent(new CustomEvent("settled", { detail: settled }));
      this.#channel?.postMessage({ what: "settled", record: settled });
    }
    this.#say({ why: "" });
    this.changed();
  }

  #marked(changed) {
    const all = changed.filter(Boolean);
    for (const { id } of all) for (const store of [this.#sent, this.#passed, this.#dates]) store.delete(id);
    return all;
  }

  // No room for a mark: what was received is deleted, which takes none; what was refused stays stored as it is, and is
  // passed over for now.
  async #unmarked(database, settled) {
    for (const record of settled) {
      this.#sent.set(record.id, record);
      const gone = record.state === DONE && (await database.remove(record.id).then(() => true, () => false));
      if (!gone) this.#passed.set(record.id, record.lane);
    }
    return settled;
  }

  // All that is left in a lane was answered and could not be marked: sent again after a pause, when there may be room.
  #passAgain(lane) {
    for (const [id, its] of this.#passed) if (its === lane) this.#passed.delete(id);
    this.#pause(lane);
  }

  async #keep(database, record, verdict) {
    const failures = record.failures + (verdict.failed ? 1 : 0);
    // Only faults of the service count: without a signal a record waits for as long as it takes.
    const given_up = failures >= MOST_FAILURES;
    const changes = { why: given_up ? "failed" : verdict.why, failures, problem: verdict.problem ?? null, ...(given_up && { state: REFUSED }) };
    await database.change(record.id, changes).catch(() => null); // without room for that it waits as before
    // What hinders every lane (no signal, not signed in) pauses all; what is wrong with one shipment leaves the others going.
    if (!given_up) this.#pause(verdict.everywhere ? "" : record.lane);
    this.#say({ why: verdict.why });
    this.changed();
  }

  async #back() {
    await this.#meet(); // the clock may have been changed meanwhile
    this.wake();
  }

  // This phone's clock was set back: how far it is off is measured anew before what is made from now on is dated.
  async #forgetClock(database) {
    this.#offset_ms = null;
    await database.write("clock", { offset_ms: null }).catch(() => null);
  }

  // The time at which it was made, by the server's clock: fixed before the first sending, so that a repetition is the
  // same. A record made before this phone ever met the service takes the offset that is measured now.
  async #date(database, record, { stored = true } = {}) {
    if (record.offset_ms === null && this.#offset_ms === null) {
      const verdict = await this.#meet();
      if (verdict) return { verdict };
    }
    // What would be made later than now was made by a clock that was set forward since the offset was measured.
    const ahead = this.#offset_ms !== null && record.made_ms + record.offset_ms > Date.now() + this.#offset_ms + CLOCK_MS;
    const offset_ms = record.offset_ms === null || ahead ? this.#offset_ms : record.offset_ms;
    const made_at = new Date(record.made_ms + offset_ms).toISOString();
    if (!stored || (record.offset_ms !== null && !ahead)) return { dated: { ...record, made_at } };
    return { dated: await database.change(record.id, { made_at }).catch(() => this.#dateHere(record, made_at)) };
  }

  #dateHere(record, made_at) {
    if (!this.#dates.has(record.id)) this.#dates.set(record.id, made_at);
    return { ...record, made_at: this.#dates.get(record.id) };
  }

  // Measures how far this phone's clock is off; what hindered it, if anything did.
  async #meet() {
    const { offset_ms, verdict } = await greet();
    if (verdict) return verdict;
    this.#offset_ms = offset_ms;
    await (await this.#database).write("clock", { offset_ms }).catch(() => null); // measured anew by the next page then
    return null;
  }
}

// A tab keeps its name from page to page: the next page goes on at once where the last one was left while it was sending.
function nameOfTab() {
  try {
    return (sessionStorage.tab ??= uuid());
  } catch {
    return uuid(); // this browser stores nothing
  }
}

function settledBy(verdict) {
  const state = verdict.state === "done" ? DONE : REFUSED;
  return { state, answer: verdict.answer ?? null, problem: verdict.problem ?? null, why: state === REFUSED ? "refused" : "", settled_ms: Date.now() };
}

export const outbox = new Outbox();
