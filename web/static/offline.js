// Service worker: pages that were seen before open without signal. It runs only on secure origins (W3C Service Workers).

const PAGES = "pages";
const NO_SIGNAL = "/no-signal"; // in the reader's language, as the pages are
const ASSETS = "assets";
const MOST_PAGES = 400;
const PATIENCE_MS = 4000;

addEventListener("install", () => skipWaiting());
addEventListener("activate", (event) => event.waitUntil(clients.claim()));

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/assets/")) event.respondWith(asset(request));
  else if (request.mode === "navigate") event.respondWith(page(event));
});

// The folder of the assets is named by their content, so what is kept is never stale; those of an older name go.
async function asset(request) {
  const cache = await caches.open(ASSETS);
  const kept = await cache.match(request);
  if (kept) return kept;
  const response = await fetch(request);
  if (isOurs(response)) {
    const folder = request.url.split("/").slice(0, 5).join("/");
    for (const old of await cache.keys()) if (!old.url.startsWith(`${folder}/`)) await cache.delete(old);
    await cache.put(request, response.clone());
  }
  return response;
}

// The network first; what was kept when it fails, or when it is slow. Only what a rep needs in the back room is kept.
async function page(event) {
  const { request } = event;
  const cache = await caches.open(PAGES);
  const key = request.url.split(/[?#]/)[0];
  const kept = await cache.match(key);
  const fresh = fetch(request).then(async (response) => {
    if (isOurs(response) && isKept(new URL(key).pathname)) await keep(cache, key, response.clone());
    return response;
  });
  if (!kept) return fresh.catch(async () => (await cache.match(NO_SIGNAL)) ?? nothing());
  const late = new Promise((resolve) => setTimeout(() => resolve(kept), PATIENCE_MS));
  event.waitUntil(fresh.catch(() => null));
  return Promise.race([fresh.catch(() => kept), late]);
}

function isOurs(response) {
  return response.ok && response.type === "basic" && !response.redirected && response.headers.get("X-Service") === "receiving";
}

function isKept(path) {
  return path === "/" || path === "/outbox" || (path.startsWith("/s/") && !path.includes("/receipt") && !/\.\w+$/.test(path));
}

async function keep(cache, key, response) {
  await cache.delete(key);
  await cache.put(key, response);
  const keys = await cache.keys();
  for (const old of keys.slice(0, Math.max(0, keys.length - MOST_PAGES))) await cache.delete(old);
}

function nothing() {
  const text = `<!doctype html><html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width">
<title>No signal</title><h1>No signal</h1><p>This page was not opened on this phone before.</p>
<p>What you scanned and photographed is kept. <a href="/">Shipments seen before</a></p></html>`;
  return new Response(text, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
}
