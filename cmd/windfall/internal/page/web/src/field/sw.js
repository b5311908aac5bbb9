// Keeps the crew's page, and the map under it, for when the laptop is out of
// reach. What is asked of the API goes to the laptop alone: the page keeps the
// answers itself.
/// <reference lib="webworker" />
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const own = "windfall-page-1", map = "windfall-map", most = 3000; // tiles, some 40 MB
const files = ["/crew.html", "/crew.js", "/crew.css", "/icon.svg"];

worker.addEventListener("install", (e) => {
  e.waitUntil(caches.open(own).then((c) => c.addAll(files)).then(() => worker.skipWaiting()));
});

worker.addEventListener("activate", (e) => {
  e.waitUntil(caches.keys().then((names) => Promise.all(names.filter((n) => n !== own && n !== map).map((n) => caches.delete(n)))).then(() => worker.clients.claim()));
});

worker.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== worker.location.origin) return;
  if (files.includes(url.pathname)) e.respondWith(fresh(e.request, url.pathname));
  else if (url.pathname.startsWith("/map/")) e.respondWith(tile(e.request));
});

/** The laptop's file if it answers within two seconds, else the one kept. @param {Request} r @param {string} path */
async function fresh(r, path) {
  const cache = await caches.open(own), kept = await cache.match(path);
  const asked = fetch(r).then((a) => {
    if (a.ok && !a.redirected) cache.put(path, a.clone());
    return a;
  });
  if (!kept) return asked;
  return Promise.race([asked, new Promise((ok) => setTimeout(() => ok(kept), 2000))]).catch(() => kept);
}

/** @param {Request} r */
async function tile(r) {
  const cache = await caches.open(map), kept = await cache.match(r);
  if (kept) return kept;
  const a = await fetch(r);
  if (a.ok && (await cache.keys()).length < most) cache.put(r, a.clone());
  return a;
}
