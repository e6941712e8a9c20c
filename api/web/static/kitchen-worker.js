// Service worker of the wall screen: shows the screen without a network, as after a power cut. The page itself keeps its last board and
// the files that the board needs (kitchen-offline.js); this script only hands them out. The network comes first, so that what is kept
// never hides what is newer; files have their version in their address and are the same wherever they come from.
const PATIENCE_MS = 5000;
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));

worker.addEventListener("install", () => worker.skipWaiting());
worker.addEventListener("activate", (event) => event.waitUntil(worker.clients.claim()));

worker.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(caches.match(request).then((kept) => kept ?? fetch(request)));
  else if (request.mode === "navigate" && url.pathname.endsWith("/kitchen")) event.respondWith(page(request, url.pathname));
});

/**
 * page answers with the network's page, or the one that was kept where the network fails or takes too long.
 * @param {Request} request
 * @param {string} path
 */
async function page(request, path) {
  const cache = await caches.open("hotday." + path);
  const kept = await cache.match(path);
  const asked = fetch(request);
  if (!kept) return asked;
  /** @type {Promise<Response>} */
  const late = new Promise((resolve) => setTimeout(resolve, PATIENCE_MS, kept));
  try {
    const answer = await Promise.race([asked, late]);
    if (answer.type === "opaqueredirect") await caches.delete("hotday." + path); // signed out: nothing about the site stays
    return answer.status >= 500 ? kept : answer;
  } catch {
    return kept;
  }
}
