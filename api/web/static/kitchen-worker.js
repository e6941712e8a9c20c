// Service worker of a site's pages: shows them without a network, as after a power cut. The wall screen keeps its last board itself
// (kitchen-offline.js); of Weekend and Count the last answer is kept here, marked with its time, and any other page gives way to one that
// says what there is. The network comes first, so that what is kept never hides what is newer; files have their version in their address
// and are the same wherever they come from. It shows the site's notifications too.
const PATIENCE_MS = 5000;
const FILES = "hotday.files", KEPT = ["weekend", "count"];
const worker = /** @type {ServiceWorkerGlobalScope} */ (/** @type {unknown} */ (self));
const root = new URL(location.pathname.replace(/[^/]*$/, ""), location.origin).pathname; // /s/SITE/
const away = root + "offline";

worker.addEventListener("install", (event) => {
  worker.skipWaiting();
  event.waitUntil(keepAwayPage().catch(() => {})); // kept with the next new file
});
worker.addEventListener("activate", (event) => event.waitUntil(worker.clients.claim()));

worker.addEventListener("fetch", (event) => {
  const { request } = event, url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== location.origin) return;
  if (url.pathname.startsWith("/static/")) event.respondWith(file(request, url.pathname));
  else if (request.mode === "navigate" && url.pathname.startsWith(root)) event.respondWith(page(request, url));
});

// keepAwayPage keeps the page that stands in for others, and the files that it names.
async function keepAwayPage() {
  const cache = await caches.open(FILES), answer = await fetch(away);
  if (!answer.ok) return;
  const named = [...(await answer.clone().text()).matchAll(/(?:href|src)="(\/static\/[^"]+)"/g)].map(([, path]) => path);
  await cache.addAll([...new Set(named)]);
  await cache.put(away, answer);
}

/**
 * file answers with a file of the pages. Those of another version are of no use any more.
 * @param {Request} request
 * @param {string} path
 */
async function file(request, path) {
  const kept = await caches.match(request);
  if (kept) return kept;
  const answer = await fetch(request);
  if (answer.ok && !answer.redirected) keepFile(path, request, answer.clone()).catch(() => {}); // no room: there is no page without a network
  return answer;
}

/**
 * @param {string} path
 * @param {Request} request
 * @param {Response} answer
 */
async function keepFile(path, request, answer) {
  const cache = await caches.open(FILES), version = path.slice(0, path.lastIndexOf("/") + 1);
  const old = (await cache.keys()).filter(({ url }) => new URL(url).pathname.startsWith("/static/") && !new URL(url).pathname.startsWith(version));
  await cache.put(request, answer);
  if (!old.length) return;
  await Promise.all(old.map((other) => cache.delete(other)));
  await keepAwayPage();
}

/**
 * page answers with the network's page, or what was kept where the network fails or takes too long.
 * @param {Request} request
 * @param {URL} url
 */
async function page(request, url) {
  const name = "hotday." + url.pathname, cache = await caches.open(name);
  const kept = await cache.match(url.pathname);
  const asked = fetch(request);
  /** @type {Promise<Response | undefined>} */
  const late = new Promise((resolve) => { if (kept) setTimeout(resolve, PATIENCE_MS, kept); });
  try {
    const answer = /** @type {Response} */ (await Promise.race([asked, late]));
    if (answer.type === "opaqueredirect") await forget(); // signed out: nothing about the site stays
    else if (answer.status === 403 || answer.status === 404) await caches.delete(name);
    else if (answer.status >= 500) return kept ?? answer;
    else if (answer !== kept && answer.ok && !url.search && KEPT.includes(url.pathname.slice(root.length))) keepPage(cache, url.pathname, answer.clone()).catch(() => {});
    return answer;
  } catch {
    return kept ?? (await caches.match(away)) ?? Response.error();
  }
}

/**
 * keepPage keeps a page with the time at which it came.
 * @param {Cache} cache
 * @param {string} path
 * @param {Response} answer
 */
async function keepPage(cache, path, answer) {
  const text = (await answer.text()).replace("<head>", '<head>\n<meta name="kept" content="' + Date.now() + '">');
  await cache.put(path, new Response(text, { headers: answer.headers }));
}

async function forget() {
  for (const name of await caches.keys()) if (name.startsWith("hotday." + root)) await caches.delete(name);
}

// What jobs/push sends: see its Note.
const PAGES = ["weekend", "kitchen"];
worker.addEventListener("push", (event) => {
  /** @type {{ id?: string, lang?: string, heading: string, body?: string, page?: string, settings?: string }} */
  const note = event.data?.json() ?? { heading: "hotday" }; // browsers want something shown for every message
  /** @type {NotificationOptions & { actions?: { action: string, title: string }[] }} */
  const options = { tag: note.id, lang: note.lang, body: note.body, data: note.page, actions: note.settings ? [{ action: "settings", title: note.settings }] : [] };
  event.waitUntil(worker.registration.showNotification(note.heading, options));
});
worker.addEventListener("notificationclick", (event) => {
  const page = PAGES.find((name) => name === event.notification.data) ?? "kitchen";
  event.notification.close();
  event.waitUntil(openPage(event.action === "settings" ? "/account#notifications" : root + page));
});

/**
 * openPage brings an open window with a page to the front, or opens one.
 * @param {string} path
 */
async function openPage(path) {
  const address = new URL(path, location.origin);
  const windows = await worker.clients.matchAll({ type: "window", includeUncontrolled: true });
  const there = windows.find(({ url }) => new URL(url).pathname === address.pathname);
  return there ? there.focus() : worker.clients.openWindow(address.href);
}
