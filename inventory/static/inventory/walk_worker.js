/* Keeps the pages of the walk on the device, so that they open without signal. Everything else goes to the house. */

const CACHE = "inventory-walk-1";
const PATIENCE_MS = 4000;
const OURS = /\/vehicles\/[^/]+\/inspection\/(?!taps\/|begin\/|finish\/)/;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));

self.addEventListener("message", (event) => {
  if (event.data.kind === "keep") event.waitUntil(keep(event.data, event.source));
});

async function keep({ pages, files, all }, asker) {
  const cache = await caches.open(CACHE);
  const wanted = [];
  for (const address of new Set([...files, ...pages])) {
    const isPage = OURS.test(new URL(address).pathname);
    if (isPage && !all && (await cache.match(address))) continue; // kept fresh whenever it is opened
    wanted.push(address);
  }
  for (const address of wanted) {
    try {
      await put(cache, address, await fetch(address, { credentials: "same-origin" }));
    } catch {
      return; // no signal now: the next visit tries again
    }
  }
  if (all) asker?.postMessage({ kind: "kept" });
}

async function put(cache, address, reply) {
  if (reply.ok && !reply.redirected) await cache.put(address, reply.clone());
}

self.addEventListener("fetch", (event) => {
  const { request } = event;
  const address = new URL(request.url);
  if (request.method !== "GET" || address.origin !== self.location.origin) return;
  const isPage = request.mode === "navigate" && OURS.test(address.pathname);
  const isFile = address.pathname.includes("/static/inventory/");
  if (isPage || isFile) event.respondWith(freshOrKept(event, address, isPage));
});

async function freshOrKept(event, address, isPage) {
  const cache = await caches.open(CACHE);
  const plain = address.origin + address.pathname;
  try {
    const fresh = await fetch(event.request, { signal: AbortSignal.timeout(PATIENCE_MS) });
    if (isPage || (await cache.match(plain))) event.waitUntil(put(cache, plain, fresh.clone()));
    return fresh;
  } catch (problem) {
    const kept = await cache.match(plain);
    if (kept) return kept;
    if (!isPage) throw problem;
    return new Response(NOT_KEPT, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
  }
}

const NOT_KEPT =
  "<!doctype html><html lang='en'><meta charset='utf-8'><meta name='viewport' content='width=device-width'>" +
  "<title>No signal</title><h1>No signal</h1><p>This page is not kept on this device. " +
  "What you tapped is safe: go back, or try again where there is signal.</p></html>";
