// Review: replays past days, and shows how far that is.
import { listen, showProgress } from "./live.js";
import { byID, clicked, element, reason, request, say, siteURL } from "./page.js";
import { percent } from "./quantity.js";

const replay = byID("relive", HTMLButtonElement);
const show = (/** @type {string} */ text, stoppable = false) => showProgress("replay", text, stoppable);

replay.addEventListener("click", async () => {
  replay.disabled = true;
  try {
    await request("POST", siteURL + "/replays", { json: {} });
    show(say("queued"));
  } catch (error) {
    replay.disabled = false;
    show(reason(error));
  }
});

byID("work").addEventListener("click", (event) => {
  const stop = clicked(event);
  if (!stop) return;
  stop.disabled = true;
  request("DELETE", siteURL + "/work/replay").catch((error) => {
    show(reason(error), true);
    stop.disabled = false;
  });
});

listen({
  work(job) {
    if (job.kind !== "replay") return;
    replay.disabled = !job.over;
    if (!job.over) {
      show(say("replay", { share: percent(100 * job.share) }), true);
      return;
    }
    const line = show(say("over"));
    if (line.querySelector("a")) return;
    const link = element("a", say("show"));
    link.href = location.pathname + location.search;
    line.append(" ", link);
  },
});
