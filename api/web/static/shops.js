// All shops: asks for the list again every few seconds. The service answers "not modified" while nothing has changed.
import { byID, data } from "./page.js";

const every = 5000;
const list = byID("shops-list");
const said = byID("shops-said");
const lost = byID("shops-lost");
const address = new URL(location.href);
address.searchParams.set("part", "list");
let tag = "";
let shown = "";

async function refresh() {
  if (document.hidden) return;
  try {
    const answer = await fetch(address, { headers: tag ? { "If-None-Match": tag } : {}, cache: "no-store" });
    if (answer.status !== 304 && !answer.ok) throw new Error(String(answer.status));
    if (answer.redirected) return location.reload(); // signed out
    lost.hidden = true;
    if (answer.status === 304) return;
    tag = answer.headers.get("ETag") ?? "";
    const text = await answer.text();
    if (text !== shown) replace(text);
  } catch {
    lost.hidden = false;
  }
}

/** @param {string} text the list as it is now; the focus stays on its shop */
function replace(text) {
  const first = shown === "";
  shown = text;
  const part = new DOMParser().parseFromString(text, "text/html").body;
  if (part.innerHTML.trim() === list.innerHTML.trim()) return;
  const focused = list.contains(document.activeElement) ? document.activeElement?.getAttribute("href") : null;
  list.replaceChildren(...part.childNodes);
  if (focused) list.querySelectorAll("a").forEach((a) => { if (a.getAttribute("href") === focused) a.focus({ preventScroll: true }); });
  if (!first) said.textContent = data(said).changed;
}

setInterval(refresh, every);
refresh();
document.addEventListener("visibilitychange", refresh);
