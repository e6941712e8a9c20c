"use strict";
// The page Review: have past days lived again, and say how far that is.
(() => {
  const site = document.body.dataset.site;
  const base = "/v1/sites/" + encodeURIComponent(site);
  const csrf = document.querySelector("meta[name=csrf]").content;
  const texts = JSON.parse(document.body.dataset.words);
  const words = (key, args = {}) => Object.entries(args).reduce((s, [name, x]) => s.replaceAll("{" + name + "}", x), texts[key]);
  const work = document.getElementById("work");
  const relive = document.getElementById("relive");

  function tell(text, stop) {
    let line = work.querySelector("p");
    if (!line) {
      line = work.appendChild(document.createElement("p"));
      line.dataset.kind = "replay";
      line.append(document.createElement("span"));
    }
    line.querySelector("span").textContent = text;
    let button = line.querySelector("button");
    if (stop && !button) {
      button = document.createElement("button");
      button.type = "button";
      button.className = "quiet";
      button.textContent = words("stop");
      line.append(" ", button);
    }
    if (!stop && button) button.remove();
    return line;
  }

  async function send(method, path, body) {
    let answer;
    try {
      answer = await fetch(base + path, { method, headers: { "X-CSRF-Token": csrf, "Content-Type": "application/json" }, body: body && JSON.stringify(body) });
    } catch {
      throw new Error(words("no_answer"));
    }
    if (answer.ok) return;
    if (answer.status === 401) throw new Error(words("signed_out"));
    const p = await answer.json().catch(() => null);
    throw new Error(p && (p.detail || p.title) || words("failed", { status: answer.status }));
  }

  relive.addEventListener("click", async () => {
    relive.disabled = true;
    try {
      await send("POST", "/replays", {});
      tell(words("queued"), false);
    } catch (e) {
      relive.disabled = false;
      tell(e.message, false);
    }
  });
  work.addEventListener("click", (e) => {
    const stop = e.target.closest("button");
    if (!stop) return;
    stop.disabled = true;
    send("DELETE", "/work/replay").catch((err) => tell(err.message, true));
  });

  let lastEvent = document.body.dataset.event, live = null;
  function listen() {
    live = new EventSource(base + "/live?last_event_id=" + lastEvent);
    live.addEventListener("work", (e) => {
      lastEvent = e.lastEventId || lastEvent;
      let d = {};
      try { d = JSON.parse(e.data).data || {}; } catch { return; }
      if (d.kind !== "replay") return;
      relive.disabled = !d.over;
      if (!d.over) {
        tell(words("replay", { share: Math.round(100 * d.share) + "%" }), true);
        return;
      }
      const line = tell(words("over"), false);
      if (line.querySelector("a")) return;
      const link = document.createElement("a");
      link.href = location.pathname + location.search;
      link.textContent = words("show");
      line.append(" ", link);
    });
  }
  listen();
  addEventListener("pagehide", () => live.close());
  addEventListener("pageshow", (e) => { if (e.persisted) listen(); });
})();
