"use strict";
// The page Weekend: plan again, publish, correct a number in place, try a way out and take it.
(() => {
  const site = document.body.dataset.site;
  const base = "/v1/sites/" + encodeURIComponent(site);
  const csrf = document.querySelector("meta[name=csrf]").content;
  const said = document.getElementById("said");
  const form = document.getElementById("plan");
  const publish = document.getElementById("publish");
  const aside = document.getElementById("aside");

  const texts = JSON.parse(document.body.dataset.words);
  const words = (key, more) => texts[key].replace(/\{(\w+)\}/g, (all, name) => (more && name in more ? more[name] : all));
  const say = (text) => { if (said) said.textContent = text; };

  // send makes one request and throws an Error whose message is for the person.
  async function send(method, path, body, match) {
    const headers = { "X-CSRF-Token": csrf, "Content-Type": "application/json" };
    if (match) headers["If-Match"] = match;
    let answer;
    try {
      answer = await fetch(path, { method, headers, body: JSON.stringify(body) });
    } catch {
      throw new Error(words("no_change"));
    }
    if (answer.ok) return answer.status === 204 ? null : answer.json().catch(() => null);
    throw new Error(await trouble(answer));
  }

  async function trouble(answer) {
    if (answer.status === 401) return words("signed_out");
    const p = await answer.json().catch(() => null);
    if (!p) return words("failed", { status: answer.status });
    const fields = (p.errors || []).map((e) => (e.accepted ? words("right_is", { wrong: e.detail, right: e.accepted }) : e.detail)).join(". ");
    return [p.title, p.detail, fields].filter(Boolean).join(". ") + ".";
  }

  async function busy(button, doing, work) {
    button.disabled = true;
    document.body.setAttribute("aria-busy", "true");
    say(doing);
    try {
      await work();
    } catch (e) {
      say(e.message);
      button.disabled = false;
    }
    document.body.removeAttribute("aria-busy");
  }

  async function planAgain() {
    await settled();
    const over = elapsed();
    try {
      await send("POST", base + "/plans", { from: form.elements.from.value, days: Number(form.elements.days.value) });
      location.assign(location.pathname);
    } finally {
      over();
    }
  }

  // elapsed shows beside what is said how long it has taken so far, without reading every second aloud.
  function elapsed() {
    const since = Date.now();
    const clock = document.createElement("span");
    clock.setAttribute("aria-hidden", "true");
    const tick = setInterval(() => {
      if (!clock.isConnected) said.append(" ", clock);
      clock.textContent = Math.round((Date.now() - since) / 1000) + "\u202fs";
    }, 1000);
    return () => { clearInterval(tick); clock.remove(); };
  }

  if (form) {
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      busy(form.elements.again, words("planning"), planAgain);
    });
  }
  if (publish) {
    publish.addEventListener("click", () => busy(publish, words("publishing"), async () => {
      await send("POST", base + "/plans/" + document.body.dataset.revision + "/publish", {});
      location.assign(location.pathname);
    }));
  }

  if (aside) {
    aside.addEventListener("click", () => busy(aside, words("putting_aside"), async () => {
      await send("POST", base + "/plans/" + document.body.dataset.revision + "/set-aside", {});
      location.assign(location.pathname);
    }));
  }

  // Numbers corrected in place go out one after the other, so that the last one typed is the one that stays.
  let line = Promise.resolve();
  const settled = () => line;

  // What is wrong with a number stands at its field, where the eye is.
  const wrongAt = (input, text) => {
    const id = input.id + "-w";
    let at = document.getElementById(id);
    if (!text) {
      input.removeAttribute("aria-invalid");
      if (at) at.remove();
      input.setAttribute("aria-describedby", input.id + "-r");
      return;
    }
    if (!at) {
      at = document.createElement("span");
      at.id = id;
      at.className = "wrong";
      input.after(at);
    }
    at.textContent = text;
    input.setAttribute("aria-invalid", "true");
    input.setAttribute("aria-describedby", id + " " + input.id + "-r");
    say(text);
  };

  for (const input of document.querySelectorAll(".asked input")) {
    input.dataset.was = input.value;
    input.addEventListener("change", () => {
      const text = input.value.trim().replace(",", ".");
      const n = text === "" ? null : Number(text);
      if (n !== null && !(n >= 0 && n <= 1e6)) {
        wrongAt(input, words("no_number", { typed: input.value }));
        return;
      }
      wrongAt(input, "");
      const d = input.dataset;
      const row = { date: input.closest("table").dataset.date, day_part: d.part, drink: d.drink, expected: n, p10: null, p90: null };
      line = line.then(() => send("PUT", base + "/expected-demand", { rows: [row] })).then(() => {
        d.was = input.value;
        input.closest("td").classList.add("changed");
        say(words(n === null ? "taken_back" : "kept"));
      }).catch((e) => wrongAt(input, e.message));
    });
  }

  // What a strip shows is said in words at its side: the row of the table below that it leads to.
  const told = document.getElementById("told");
  const tell = (strip) => {
    const row = document.getElementById(strip.hash.slice(1));
    if (!row) return;
    told.replaceChildren(...[...row.cells].map((cell) => {
      const line = document.createElement("span");
      line.textContent = (cell.dataset.label ? cell.dataset.label + ": " : "") + cell.textContent;
      return line;
    }));
    told.hidden = false;
    const at = strip.getBoundingClientRect();
    const width = told.offsetWidth;
    told.style.left = Math.max(8, Math.min(at.left, document.documentElement.clientWidth - width - 8)) + scrollX + "px";
    const above = at.top - told.offsetHeight - 6;
    told.style.top = (at.bottom + told.offsetHeight + 6 > innerHeight && above > 0 ? above : at.bottom + 6) + scrollY + "px";
  };
  for (const strip of told ? document.querySelectorAll("a.days") : []) {
    for (const kind of ["mouseenter", "focus"]) strip.addEventListener(kind, () => tell(strip));
    for (const kind of ["mouseleave", "blur"]) strip.addEventListener(kind, () => { told.hidden = true; });
  }
  addEventListener("keydown", (e) => { if (e.key === "Escape" && told) told.hidden = true; });

  // A row that the picture points to opens what it is folded in; paper shows everything.
  const unfold = () => {
    const row = document.getElementById(decodeURIComponent(location.hash.slice(1)));
    let folded = false;
    for (let at = row; at; at = at.parentElement) {
      if (at.matches("details:not([open])")) folded = at.open = true;
    }
    if (folded) row.scrollIntoView({ block: "center" });
  };
  addEventListener("hashchange", unfold);
  unfold();
  let folded = [];
  addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details:not([open]):not(.why):not(.before):not(.hourly)")];
    for (const d of folded) d.open = true;
  });
  addEventListener("afterprint", () => { for (const d of folded) d.open = false; });

  // What others do is told in one line; the page stays as it is until somebody asks for it.
  const news = document.getElementById("news");
  const tellNews = (text) => {
    if (document.body.hasAttribute("aria-busy")) return; // it is this page's own doing, and shown in a moment
    news.firstElementChild.textContent = text;
    news.hidden = false;
  };
  // A job that takes a while says how far it is, and can be stopped.
  const work = document.getElementById("work");
  function tellWork(d) {
    if (!work || d.kind !== "refit") return;
    let line = work.querySelector('[data-kind="refit"]');
    if (d.over) {
      if (line) line.replaceChildren(document.createTextNode(words("learnt")));
      return;
    }
    if (!line) {
      line = work.appendChild(document.createElement("p"));
      line.dataset.kind = d.kind;
    }
    if (!line.querySelector("span")) line.replaceChildren(document.createElement("span"));
    line.querySelector("span").textContent = words("learning", { share: Math.round(100 * d.share) + "%" });
    if (form && !line.querySelector("button")) {
      const stop = document.createElement("button");
      stop.type = "button";
      stop.className = "quiet";
      stop.textContent = words("stop");
      line.append(" ", stop);
    }
  }
  if (work) {
    work.addEventListener("click", (e) => {
      const stop = e.target.closest("button");
      if (!stop) return;
      stop.disabled = true;
      send("DELETE", base + "/work/" + stop.closest("[data-kind]").dataset.kind).catch((err) => { stop.disabled = false; say(err.message); });
    });
  }

  let lastEvent = document.body.dataset.event || "", live = null;
  function listen() {
    live = new EventSource(base + "/live" + (lastEvent ? "?last_event_id=" + lastEvent : ""));
    const on = (kind, told) => live.addEventListener(kind, (e) => {
      lastEvent = e.lastEventId || lastEvent;
      let data = {};
      try { data = JSON.parse(e.data).data || {}; } catch { /* told without its number */ }
      const text = told(data);
      if (text) tellNews(text);
    });
    on("hello", () => "");
    on("plan", (d) => d.problem ? words("plan_failed", { why: d.problem }) : d.revision > Number(document.body.dataset.revision) ? words("newer", { revision: d.revision }) : "");
    on("sheet", (d) => d.revision ? words("new_sheet_of", { revision: d.revision }) : words("new_sheet"));
    on("work", (d) => { tellWork(d); return ""; });
    on("warning", (d) => (d.opened || []).length ? words("new_warning") : (d.updated || []).length ? words("warning_changed") : "");
  }
  if (news) {
    listen();
    addEventListener("pagehide", () => live.close());
    addEventListener("pageshow", (e) => { if (e.persisted) listen(); });
  }

  document.addEventListener("click", (e) => {
    const tryButton = e.target.closest("button.try");
    if (tryButton) tryOut(tryButton);
    const take = e.target.closest("button.take");
    if (take) {
      busy(take, words("taking"), async () => {
        for (const s of JSON.parse(take.dataset.steps)) await send(s.method, s.path, s.body, s.match);
        say(words("planning"));
        await planAgain();
      });
    }
  });

  async function tryOut(button) {
    const place = button.closest(".warning").querySelector(".tried");
    for (const b of document.querySelectorAll("button.try")) b.removeAttribute("aria-expanded");
    button.setAttribute("aria-expanded", "true");
    button.disabled = true;
    place.textContent = words("trying");
    const body = new URLSearchParams({ csrf, revision: document.body.dataset.revision, warning: button.dataset.warning, way: button.dataset.way });
    try {
      const answer = await fetch("/s/" + encodeURIComponent(site) + "/weekend/try", { method: "POST", body });
      if (answer.redirected || !(answer.headers.get("Content-Type") || "").startsWith("text/html")) throw new Error(words("signed_out"));
      place.innerHTML = await answer.text();
      if (!form) for (const t of place.querySelectorAll(".take")) t.remove();
    } catch (err) {
      place.textContent = err instanceof TypeError ? words("no_answer") : err.message;
    }
    button.disabled = false;
  }
})();
