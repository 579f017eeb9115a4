// Puts on the phone what a rep needs for hours without a signal: the scripts and styles, the pages of the shipment that
// is open, and its sheet, by which the phone answers scans itself. Only on secure origins (Cache API, W3C).
import { Database } from "./database.js";
import { isOurs } from "./ours.js";

const ASSETS = "assets";
const PAGES = "pages";
const PAUSE_MS = 40;
const KEPT_LANGUAGE = "kept-language";
const KEPT_FOR = "kept-for";
const SHEET = "sheet ";

const database = Database.open().catch(() => null);

export async function keepShell() {
  if (!globalThis.caches) return;
  const response = await fetch("/shell", { redirect: "manual" });
  if (!isOurs(response)) return;
  const { assets, pages } = await response.json();
  const cache = await caches.open(ASSETS);
  const wanted = new Set(assets.map((path) => new URL(path, location.href).href));
  for (const url of wanted) if (!(await cache.match(url))) await keep(cache, url, url);
  for (const { url } of await cache.keys()) if (!wanted.has(url)) await cache.delete(url);
  const kept = await caches.open(PAGES);
  for (const path of pages) await keep(kept, path, new URL(path, location.href).href);
  await renew(kept);
}

// After somebody chose another language: the pages on this phone anew in it, one after the other; until then those in the
// old one open, which is better than none.
async function renew(cache) {
  const { lang } = document.documentElement;
  const before = localStorage.getItem(KEPT_LANGUAGE) ?? "en";
  if (before === lang) return;
  let whole = true;
  for (const { url } of await cache.keys()) {
    whole = (await keep(cache, url, url)) && whole;
    await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
  }
  if (whole) localStorage.setItem(KEPT_LANGUAGE, lang);
}

// The sheet of a shipment: fresh where there is a signal, else as it was put here last; null where it never was.
export async function sheetOf(address) {
  const held = (await (await database)?.read(SHEET + address)) ?? null;
  try {
    const response = await fetch(`${address}/sheet`, { redirect: "manual", cache: "no-store" });
    if (!isOurs(response)) return held;
    const sheet = await response.json();
    await (await database)?.write(SHEET + address, sheet).catch(() => null); // no room: this page has it all the same
    if (held?.version !== sheet.version || held.language !== sheet.language || !held.kept) keepPages(address, sheet).catch(() => {});
    return sheet;
  } catch {
    return held;
  }
}

async function keepPages(address, sheet) {
  if (!globalThis.caches) return;
  const cache = await caches.open(PAGES);
  for (const path of sheet.pages) {
    await keep(cache, path, new URL(path, location.href).href);
    await new Promise((resolve) => setTimeout(resolve, PAUSE_MS));
  }
  await (await database)?.write(SHEET + address, { ...sheet, kept: true });
}

async function keep(cache, path, key) {
  try {
    const response = await fetch(path, { redirect: "manual" });
    if (isOurs(response)) await cache.put(key, response);
    return true;
  } catch {
    return false; // no signal: what was kept before stays
  }
}

// Somebody signs out: the next person at this phone must not see these pages, nor what they were made of. What waits
// stays; it says who made it.
export async function forgetPages() {
  await globalThis.caches?.delete(PAGES);
  await (await database)?.forget(SHEET);
}

// What is on this phone was kept for one reader. Where another one comes, or nobody is signed in any more, it goes: his
// session may have ended elsewhere, or somebody else signed in over it.
export async function keepFor(reader) {
  const before = localStorage.getItem(KEPT_FOR);
  if (before === reader) return;
  if (before !== null) await forgetPages();
  localStorage.setItem(KEPT_FOR, reader);
}
