// Keeps the wall screen's last board in the browser's cache as a page of its own, with the files that it needs. The service worker
// (kitchen-worker.js) shows it when there is no network.

const EVERY_MS = 20e3; // a board is written no more often
const POLICY = "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; font-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'";
const cacheName = "hotday." + location.pathname;

/** @type {{ html: string, fetchedAt: number } | null} */
let latest = null;
let writtenAt = 0, timer = 0;

/**
 * keepOffline keeps a board, soon.
 * @param {string} html
 * @param {number} fetchedAt when it came, by this device's clock
 */
export function keepOffline(html, fetchedAt) {
  if (!window.caches) return; // there only over HTTPS or on the server itself
  latest = { html, fetchedAt };
  if (!timer) timer = setTimeout(write, Math.max(0, writtenAt + EVERY_MS - Date.now()));
}

/** forgetOffline removes what is kept: the screen has been signed out. */
export function forgetOffline() {
  clearTimeout(timer);
  timer = 0;
  if (window.caches) caches.delete(cacheName).catch(() => {});
}

async function write() {
  timer = 0;
  writtenAt = Date.now();
  if (!latest) return;
  const page = new Response(pageWith(latest.html, latest.fetchedAt), { headers: { "Content-Type": "text/html; charset=utf-8", "Content-Security-Policy": POLICY } });
  try {
    const cache = await caches.open(cacheName);
    const named = [...document.querySelectorAll("script[src], link[href]:not([rel=manifest])")].map((e) => (e instanceof HTMLScriptElement ? e.src : /** @type {HTMLLinkElement} */ (e).href));
    const files = [...new Set(named)];
    const kept = (await cache.keys()).map((request) => request.url);
    // A file that leads elsewhere is of another version than this page, which is about to be replaced: the two are not mixed.
    await cache.addAll(files.filter((file) => !kept.includes(file)).map((file) => new Request(file, { redirect: "error" })));
    await cache.put(location.pathname, page);
    for (const url of kept) if (!files.includes(url) && url !== location.origin + location.pathname) await cache.delete(url);
  } catch { /* the browser has no room or no right: there is no page without a network */ }
}

/**
 * pageWith is this page with a board in place of the one that it shows.
 * @param {string} html
 * @param {number} fetchedAt
 */
function pageWith(html, fetchedAt) {
  const body = /** @type {HTMLElement} */ (document.body.cloneNode(false));
  body.dataset.kept = String(fetchedAt);
  const board = Object.assign(document.createElement("div"), { id: "board", innerHTML: html });
  body.append(board, Object.assign(document.createElement("p"), { id: "trouble", className: "wrong", hidden: true }));
  return "<!doctype html><html lang=\"" + document.documentElement.lang + "\">" + document.head.outerHTML + body.outerHTML + "</html>";
}
