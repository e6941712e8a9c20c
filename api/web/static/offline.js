// The page that a site's pages give way to without a network: says since when, and which pages this device has kept.
import { ago, lastAnswer } from "./age.js";
import { all, byID, data, frameText, one } from "./page.js";

const root = location.pathname.replace(/[^/]*$/, "");
const since = lastAnswer();
if (since) byID("since").textContent = frameText("answered", { ago: ago(since) });

for (const line of all(document, "[data-page]")) {
  const path = root + data(line).page;
  caches.open("hotday." + path).then((cache) => cache.match(path)).then(async (kept) => {
    if (!kept) return;
    const at = /(?:name="kept" content|data-kept)="(\d+)"/.exec(await kept.text());
    if (!at) return;
    const link = one(line, "a", HTMLAnchorElement);
    link.href = path;
    one(line, "span").textContent = ago(Number(at[1]));
    line.hidden = false;
  }).catch(() => {});
}
byID("again").addEventListener("click", () => location.reload());
addEventListener("online", () => location.reload());
