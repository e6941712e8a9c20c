"use strict";
// Shows the wall screen where there is no network, as after a power cut. The page itself keeps its last board and the files that
// it needs (kitchen.js); here they are only handed out. The network always comes first: what is kept never hides what is new.
const PATIENCE = 5000;

self.addEventListener("install", () => self.skipWaiting());
self.addEventListener("activate", (e) => e.waitUntil(self.clients.claim()));

self.addEventListener("fetch", (e) => {
  const url = new URL(e.request.url);
  if (e.request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) e.respondWith(caches.match(e.request).then((kept) => kept || fetch(e.request)));
  else if (e.request.mode === "navigate" && url.pathname.endsWith("/kitchen")) e.respondWith(page(e.request, url.pathname));
});

async function page(request, path) {
  const store = await caches.open("hotday." + path);
  const kept = await store.match(path);
  const asked = fetch(request);
  if (!kept) return asked;
  const late = new Promise((done) => setTimeout(done, PATIENCE, kept));
  try {
    const answer = await Promise.race([asked, late]);
    if (answer.type === "opaqueredirect") await caches.delete("hotday." + path); // signed out: nothing of the shop stays
    return answer.status >= 500 ? kept : answer;
  } catch {
    return kept;
  }
}
