// Where the browser gives no database (private windows of some), records wait in memory while the page is open.
import { DONE, REFUSED, WAITING } from "./database.js";

export class Memory {
  temporary = true;
  #next = 1;
  #records = new Map();
  #meta = new Map();

  #of(state) { return [...this.#records.values()].map(({ record }) => record).filter((record) => record.state === state); }

  async add(record, files = []) {
    const kept = { ...record, seq: this.#next++ };
    this.#records.set(record.id, { record: kept, files });
    return kept;
  }

  async lanes() { return [...new Set(this.#of(WAITING).map((record) => record.lane))]; }

  async next(lane, passed) {
    const record = this.#of(WAITING).find((each) => each.lane === lane && !passed.has(each.id));
    return record ? { record, files: this.#records.get(record.id).files } : null;
  }

  async several(lane, most, passed) {
    const found = this.#of(WAITING).filter((each) => each.lane === lane && !passed.has(each.id)).slice(0, most);
    const large = found.findIndex((record) => record.files);
    return large < 0 ? found : found.slice(0, large);
  }

  async get(id) { return this.#records.get(id)?.record; }

  async change(id, changes) {
    const kept = this.#records.get(id);
    if (!kept) return null;
    kept.record = { ...kept.record, ...changes };
    return kept.record;
  }

  async changeAll(all) { return Promise.all(all.map(([id, changes]) => this.change(id, changes))); }

  async remove(id) {
    const record = (await this.get(id)) ?? null;
    this.#records.delete(id);
    return record;
  }

  async list(state, most = 200) { return this.#of(state).reverse().slice(0, most); }

  async counts() {
    const counts = { [WAITING]: {}, [REFUSED]: {}, [DONE]: {} };
    for (const { record } of this.#records.values()) counts[record.state][record.kind] = (counts[record.state][record.kind] ?? 0) + 1;
    return counts;
  }

  async read(key) { return this.#meta.get(key); }
  async write(key, value) { this.#meta.set(key, value); }
  async lease() { return true; }
  async release() {}
}
