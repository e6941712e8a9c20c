// On every page of a site: the service worker that shows pages without a network, and a line that says how old a kept one is.
import { ago, rememberAnswer } from "./age.js";
import { element, frameText, site } from "./page.js";

const root = "/s/" + encodeURIComponent(site) + "/";
const kept = document.querySelector("meta[name=kept]");

if (kept instanceof HTMLMetaElement) {
  const line = element("p", frameText("kept", { ago: ago(Number(kept.content)) }));
  line.className = "old";
  line.setAttribute("role", "alert");
  document.body.prepend(line);
  addEventListener("online", () => location.reload());
} else if (!document.body.dataset.kept) { // the wall says itself how old its board is
  rememberAnswer();
}
navigator.serviceWorker?.register(root + "kitchen-worker.js", { scope: root }).catch(() => {}); // there only over HTTPS or on the server itself
