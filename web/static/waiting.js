// Scans and photos that wait for a signal, in IndexedDB: written before anything is sent, removed when the server has it.

const STORE = "waiting";
const RETRY_MS = 4000;

function opened() {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open("receiving", 1);
    request.onupgradeneeded = () => request.result.createObjectStore(STORE, { keyPath: "id", autoIncrement: true });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

function done(request) {
  return new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
}

// Where the browser gives no database (private windows of some), records wait in memory while the page is open.
class Memory {
  #next = 1;
  #records = new Map();
  async add(record) { this.#records.set(this.#next, { ...record, id: this.#next++ }); }
  async all() { return [...this.#records.values()]; }
  async remove(id) { this.#records.delete(id); }
}

class Database {
  #database;
  constructor(database) { this.#database = database; }
  #store(mode) { return this.#database.transaction(STORE, mode).objectStore(STORE); }
  async add(record) { await done(this.#store("readwrite").add(record)); }
  async all() { return done(this.#store("readonly").getAll()); }
  async remove(id) { await done(this.#store("readwrite").delete(id)); }
}

async function records() {
  try {
    return new Database(await opened());
  } catch {
    return new Memory();
  }
}

export class Waiting {
  #records = records();
  #sending = false;
  #again = false;
  #timer = 0;

  // onCount(scans, photos, offline) after every change; onAnswer(record, html) for what the server said of a record.
  constructor({ onCount, onAnswer }) {
    this.onCount = onCount;
    this.onAnswer = onAnswer;
    addEventListener("online", () => this.send());
    addEventListener("offline", () => this.#count(true));
  }

  async add(record) {
    await (await this.#records).add(record);
    this.send();
  }

  async #count(offline) {
    const all = await (await this.#records).all();
    this.onCount(all.filter((r) => r.kind === "scan").length, all.filter((r) => r.kind === "photo").length, offline);
  }

  async send() {
    if (this.#sending) { this.#again = true; return; }
    this.#sending = true;
    clearTimeout(this.#timer);
    try {
      await this.#sendAll();
    } finally {
      this.#sending = false;
    }
    if (this.#again) { this.#again = false; this.send(); }
  }

  async #sendAll() {
    const store = await this.#records;
    let sent = 0;
    // Scans before photos: they are small, and a person waits for their answer.
    for (let all = await store.all(); all.length; all = await store.all()) {
      all.sort((a, b) => (a.kind === b.kind ? a.id - b.id : a.kind === "scan" ? -1 : 1));
      const record = all[0];
      if (record.kind === "photo" || all.length > 1 || sent) this.#count(false);
      const answer = await post(record);
      if (!answer) {
        this.#count(true);
        this.#timer = setTimeout(() => this.send(), RETRY_MS);
        return;
      }
      await store.remove(record.id);
      sent += 1;
      this.onAnswer(record, answer.html);
    }
    this.#count(false);
  }
}

// Null when there is no signal or the server is in trouble: the record then waits. A refusal (4xx) is an answer.
async function post(record) {
  const form = new FormData();
  const page = document.querySelector("input[name=token]");
  for (const [name, value] of Object.entries(record.fields)) form.append(name, value);
  if (page) form.set("token", page.value);
  if (record.file) form.append("photos", record.file, record.name);
  try {
    const response = await fetch(record.url, { method: "POST", body: form, headers: { "X-Part": "answer" } });
    if (response.status >= 500 || response.status === 408 || response.status === 429) return null;
    return { html: response.status === 204 ? "" : await response.text() };
  } catch {
    return null;
  }
}
