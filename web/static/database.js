// The outbox in IndexedDB. Every step touches one record: what waits is found by an index, and counts are stored with it.
//
// actions: one record an action, in the order in which they were made; files: what belongs to a record, apart, so that
// a list loads no photo; meta: counts by state and kind, which tab sends, the clock.

const NAME = "receiving-outbox";
const STORES = ["actions", "files", "meta"];
export const WAITING = "waiting";
export const REFUSED = "refused";
export const DONE = "done";
const MOST_DONE = 500;
const COUNTS = "counts";
const NONE = { [WAITING]: {}, [REFUSED]: {}, [DONE]: {} };

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const actions = request.result.createObjectStore("actions", { keyPath: "seq", autoIncrement: true });
      actions.createIndex("id", "id", { unique: true });
      actions.createIndex("next", ["state", "lane", "seq"]);
      actions.createIndex("lane", ["state", "lane"]);
      actions.createIndex("state", ["state", "seq"]);
      request.result.createObjectStore("files");
      request.result.createObjectStore("meta");
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => request.result.close();
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
    request.onblocked = () => reject(new Error("blocked"));
  });
}

export function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

const ends = (state) => IDBKeyRange.bound([state], [state, []]);

export class Database {
  static async open() { return new Database(await opened()); }

  #database;
  constructor(database) { this.#database = database; }

  // Runs work(stores) in one transaction and gives its result once it is stored; "strict" waits for the disk itself. A
  // mark of something received may be lost with the power: it is sent again then, and carried out once.
  async #run(mode, work, durability = "relaxed") {
    const transaction = this.#database.transaction(STORES, mode, { durability });
    const finished = new Promise((resolve, reject) => {
      transaction.oncomplete = resolve;
      transaction.onabort = () => reject(transaction.error ?? new Error("aborted"));
    });
    const stores = Object.fromEntries(STORES.map((name) => [name, transaction.objectStore(name)]));
    let result;
    try {
      result = await work(stores);
    } catch (fault) {
      try { transaction.abort(); } catch { /* it has ended already */ }
      finished.catch(() => {});
      throw fault;
    }
    await finished;
    return result;
  }

  async add(record, files = []) {
    return this.#run("readwrite", async ({ actions, files: all, meta }) => {
      const seq = await done(actions.add(record));
      if (files.length) await done(all.put(files, record.id));
      await count(actions, meta, null, record);
      return { ...record, seq };
    }, "strict");
  }

  // The lanes that have something to send.
  async lanes() {
    return this.#run("readonly", ({ actions }) => new Promise((resolve, reject) => {
      const found = [];
      const request = actions.index("lane").openKeyCursor(ends(WAITING), "nextunique");
      request.onerror = () => reject(request.error);
      request.onsuccess = () => {
        const cursor = request.result;
        if (!cursor) { resolve(found); return; }
        found.push(cursor.key[1]);
        cursor.continue();
      };
    }));
  }

  // Without those that are passed over: a set of ids.
  async next(lane, passed) {
    return this.#run("readonly", async ({ actions, files }) => {
      const [record] = await inLane(actions, lane, 1, passed);
      return record ? { record, files: record.files ? (await done(files.get(record.id))) ?? [] : [] } : null;
    });
  }

  // The records that wait first in a lane, up to the first that has files.
  async several(lane, most, passed) {
    return this.#run("readonly", async ({ actions }) => {
      const found = await inLane(actions, lane, most, passed);
      const large = found.findIndex((record) => record.files);
      return large < 0 ? found : found.slice(0, large);
    });
  }

  async get(id) {
    return this.#run("readonly", ({ actions }) => done(actions.index("id").get(id)));
  }

  // Changes a record; where its state changes, counts follow, and of what is done only the newest are left.
  async change(id, changes) {
    return (await this.changeAll([[id, changes]]))[0];
  }

  // Several changes in one transaction: [[id, changes]]; gives the changed records, null for one that is gone.
  async changeAll(all) {
    return this.#run("readwrite", async ({ actions, files, meta }) => {
      const changed = [];
      for (const [id, changes] of all) changed.push(await changeOne(id, changes, actions, files, meta));
      return changed;
    });
  }

  // Deletes a record and writes nothing, which a phone without any room takes too: the counts are counted anew.
  async remove(id) {
    return this.#run("readwrite", async ({ actions, files, meta }) => {
      const record = await done(actions.index("id").get(id));
      if (!record) return null;
      await done(actions.delete(record.seq));
      await done(files.delete(id));
      await done(meta.delete(COUNTS));
      return record;
    });
  }

  // The newest first; at most as many as are asked for.
  async list(state, most = 200) {
    return this.#run("readonly", ({ actions }) => new Promise((resolve, reject) => {
      const found = [];
      const request = actions.index("state").openCursor(ends(state), "prev");
      request.onerror = () => reject(request.error);
      request.onsuccess = () => {
        const cursor = request.result;
        if (!cursor || found.length === most) { resolve(found); return; }
        found.push(cursor.value);
        cursor.continue();
      };
    }));
  }

  // {waiting: {scan: 2}, refused: {}, done: {scan: 14}}
  async counts() {
    return this.#run("readonly", async ({ actions, meta }) => ({ ...NONE, ...((await done(meta.get(COUNTS))) ?? (await counted(actions))) }));
  }

  async read(key) { return this.#run("readonly", ({ meta }) => done(meta.get(key))); }

  async forget(prefix) {
    await this.#run("readwrite", ({ meta }) => done(meta.delete(IDBKeyRange.bound(prefix, `${prefix}\uffff`))));
  }

  async write(key, value) { await this.#run("readwrite", ({ meta }) => done(meta.put(value, key))); }

  // True for the one tab that may send now. A lease ends by itself: a tab may be frozen or killed while it holds it.
  async lease(key, tab, ms) {
    return this.#run("readwrite", async ({ meta }) => {
      const now = Date.now();
      const held = await done(meta.get(key));
      const theirs = held && held.tab !== tab && held.until > now && held.until <= now + ms;
      if (!theirs) await done(meta.put({ tab, until: now + ms }, key));
      return !theirs;
    });
  }

  async release(key, tab) {
    await this.#run("readwrite", async ({ meta }) => {
      if ((await done(meta.get(key)))?.tab === tab) await done(meta.delete(key));
    });
  }
}

async function changeOne(id, changes, actions, files, meta) {
  const record = await done(actions.index("id").get(id));
  if (!record) return null;
  const changed = { ...record, ...changes };
  await done(actions.put(changed));
  if (changed.state === record.state) return changed;
  const counts = await count(actions, meta, record, changed);
  if (changed.state === DONE) {
    if (record.files) await done(files.delete(id));
    if (sum(counts[DONE]) > MOST_DONE) await forget(actions, meta);
  }
  return changed;
}

// The records that wait first in a lane, at most as many, without those that are passed over.
async function inLane(actions, lane, most, passed) {
  const first = IDBKeyRange.bound([WAITING, lane], [WAITING, lane, []]);
  const found = await done(actions.index("next").getAll(first, most + passed.size));
  return found.filter(({ id }) => !passed.has(id)).slice(0, most);
}

// Takes a record that was put (after), deleted (before) or changed (both) into the counts, and gives them. Where there are
// none they are counted, and what was done to the records is in that count already.
async function count(actions, meta, before, after) {
  const stored = await done(meta.get(COUNTS));
  const counts = { ...NONE, ...(stored ?? (await counted(actions))) };
  if (stored) {
    for (const [record, by] of [[before, -1], [after, 1]]) {
      if (record) counts[record.state] = { ...counts[record.state], [record.kind]: Math.max(0, (counts[record.state][record.kind] ?? 0) + by) };
    }
  }
  await done(meta.put(counts, COUNTS));
  return counts;
}

async function counted(actions) {
  const counts = structuredClone(NONE);
  for (const { state, kind } of await done(actions.getAll())) counts[state][kind] = (counts[state][kind] ?? 0) + 1;
  return counts;
}

function sum(kinds) { return Object.values(kinds).reduce((total, n) => total + n, 0); }

async function forget(actions, meta) {
  const [oldest] = await done(actions.index("state").getAll(ends(DONE), 1));
  if (!oldest) return;
  await done(actions.delete(oldest.seq));
  await count(actions, meta, oldest, null);
}
