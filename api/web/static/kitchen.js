"use strict";
// The wall screen. The server sends the day's tasks; this chooses which one is shown, takes marks, keeps them while the network
// is away and sends each of them once (its key makes a second sending harmless), and fetches the board again whenever something
// happened.
(() => {
  const site = document.body.dataset.site;
  const base = "/v1/sites/" + encodeURIComponent(site);
  const csrf = document.querySelector("meta[name=csrf]").content;
  const words = JSON.parse(document.body.dataset.words);
  const say = (key, more) => words[key].replace(/\{(\w+)\}/g, (all, name) => (more && name in more ? more[name] : all));
  const mayMark = "mayMark" in document.body.dataset;
  const board = document.getElementById("board");
  const trouble = document.getElementById("trouble");
  const pounds = "pounds" in document.body.dataset;
  const OUNCE = 28.349523125;
  const ROUND = pounds ? OUNCE : 10; // g, what a weight begins with
  const weighed = quantity({ pounds }).grams;
  const SOON = 15 * 60e3;
  const OLD = 90e3;
  const $ = (id) => document.getElementById(id);

  let offset = 0; // the service's clock less this screen's
  let freshAt = Date.now(); // when the board last came
  let chosen = null; // a task that somebody brought forward
  let amount = null; // grams, where somebody set another
  let lastText = "";
  const now = () => Date.now() + offset;

  // Marks that have not reached the service yet, oldest first. They outlive a reload.
  const store = "hotday.marks." + site;
  const pending = {
    memory: [], // where the browser keeps nothing
    get list() { try { return JSON.parse(localStorage.getItem(store)) || []; } catch { return this.memory; } },
    set list(l) { this.memory = l; try { localStorage.setItem(store, JSON.stringify(l)); } catch { /* kept in memory */ } },
  };
  let taken = []; // ids marked on this screen, the last one last

  const tasks = () => [...board.querySelectorAll("article.step")];
  const stateOf = (t) => {
    const mine = pending.list.filter((m) => m.task === t.dataset.id).pop();
    return mine ? mine.body.state : t.dataset.state;
  };
  const isOpen = (t) => ["due", "started"].includes(stateOf(t));
  const byId = (id) => tasks().find((t) => t.dataset.id === id);

  function current() {
    const brought = chosen && byId(chosen);
    if (brought && isOpen(brought)) return brought;
    chosen = null;
    return tasks().find((t) => isOpen(t) && Number(t.dataset.at) <= now() + SOON) || null;
  }

  const span = (ms) => {
    const m = Math.round(ms / 60e3);
    if (m < 1) return say("instant");
    if (m < 60) return m + " min";
    return Math.floor(m / 60) + " h" + (m % 60 ? " " + (m % 60) + " min" : "");
  };

  // show puts the task to do now, what comes next and the clock on the screen.
  function show() {
    const cur = current();
    for (const t of tasks()) {
      t.hidden = t !== cur;
      const late = now() - Number(t.dataset.at);
      t.querySelector(".late").textContent = late > 5 * 60e3 ? say("due_ago", { span: span(late) }) : late < -60e3 ? say("due_in", { span: span(-late) }) : say("now");
      t.classList.toggle("overdue", late > 5 * 60e3);
    }
    $("idle").hidden = !!cur;
    const coming = tasks().filter((t) => isOpen(t) && t !== cur);
    const idle = $("idle-words");
    if (!cur && idle && coming.length) idle.textContent = say("next", { when: coming[0].dataset.clock, what: coming[0].dataset.short });
    const shown = coming.slice(0, 7).map((t) => t.dataset.id);
    for (const li of board.querySelectorAll("#next li")) li.hidden = !shown.includes(li.dataset.for);
    if (mayMark) controls(cur);
    clock();
  }

  function controls(cur) {
    const made = $("made");
    made.disabled = !cur;
    made.textContent = cur ? cur.dataset.done + (amount ? " " + weighed(amount) : "") : say("nothing_due");
    $("skip").disabled = !cur;
    $("amount").hidden = !cur || Number(cur.dataset.grams) === 0;
    const last = lastDone();
    $("back").disabled = !last;
    $("back").textContent = last ? say("take_back_what", { what: last.dataset.short }) : say("take_back");
  }

  // lastDone is the task marked last, here or, after a reload, anywhere.
  function lastDone() {
    for (let i = taken.length - 1; i >= 0; i--) {
      const t = byId(taken[i]);
      if (t && !isOpen(t)) return t;
    }
    const t = byId(board.firstElementChild.dataset.last);
    return t && !isOpen(t) ? t : null;
  }

  function clock() {
    const zone = board.firstElementChild;
    const strips = board.querySelectorAll(".slim");
    const since = Date.now() - freshAt;
    const age = $("age");
    const waiting = pending.list.length;
    age.hidden = since < OLD && !waiting;
    age.textContent = [since >= OLD ? say("silent", { span: span(since) }) : "",
      waiting ? say(waiting === 1 ? "waiting_one" : "waiting", { n: waiting }) : ""].filter(Boolean).join(" ");
    // The zone of the site may be another than this screen's: the server's own words are moved on by minutes.
    const start = Number(zone.dataset.now);
    const minute = (Number(zone.dataset.minutes) + Math.floor((now() - start + (start % 60e3)) / 60e3)) % 1440;
    const hour = Math.floor(minute / 60), rest = ":" + String(minute % 60).padStart(2, "0");
    $("clock").textContent = "halfDays" in zone.dataset ? (hour % 12 || 12) + rest + "\u202f" + say(hour < 12 ? "am" : "pm") : String(hour).padStart(2, "0") + rest;
    for (const strip of strips) {
      const from = Number(strip.dataset.from), to = Number(strip.dataset.to);
      const x = Math.max(0, Math.min(1, (now() - from) / (to - from))) * strip.viewBox.baseVal.width;
      const line = strip.querySelector(".now");
      line.setAttribute("x1", x);
      line.setAttribute("x2", x);
    }
  }

  const newKey = () => [...crypto.getRandomValues(new Uint8Array(16))].map((b) => b.toString(16).padStart(2, "0")).join("");

  function mark(t, state, more) {
    const body = { state, at: new Date(now()).toISOString(), key: newKey(), ...more };
    pending.list = [...pending.list, { task: t.dataset.id, body }];
    taken = taken.filter((id) => id !== t.dataset.id);
    if (state !== "due") taken.push(t.dataset.id);
    chosen = state === "due" ? t.dataset.id : null;
    amount = null;
    for (const id of ["ask-skip", "ask-amount"]) $(id).hidden = true;
    show();
    flush();
  }

  // flush sends what waits, one after the other; what the service will never take is told and dropped.
  let sending = false, again = 0;
  async function flush() {
    if (sending) return;
    sending = true;
    clearTimeout(again);
    try {
      while (pending.list.length) {
        const m = pending.list[0];
        const answer = await reach("/v1/tasks/" + encodeURIComponent(m.task) + "/marks",
          { method: "POST", headers: { "Content-Type": "application/json", "X-CSRF-Token": csrf }, body: JSON.stringify(m.body) });
        if (answer.status === 401 || answer.status === 403) { signedOut(); break; }
        if (answer.status === 408 || answer.status === 429 || answer.status >= 500) throw new Error("later");
        if (answer.ok) {
          const said = await answer.json().catch(() => ({}));
          const t = byId(m.task);
          if (t) t.dataset.state = said.state || m.body.state;
          tell("");
        } else {
          const p = await answer.json().catch(() => ({}));
          tell(say("not_taken", { why: p.detail || p.title || answer.status }));
        }
        pending.list = pending.list.slice(1);
      }
    } catch {
      again = setTimeout(flush, 8000);
    }
    sending = false;
    show();
  }

  const reach = (path, options) => fetch(path, { ...options, signal: AbortSignal.timeout(10000), redirect: "manual" });

  function tell(words) {
    trouble.hidden = !words;
    trouble.textContent = words;
  }
  const signedOut = () => {
    if ("screen" in document.body.dataset) location.replace("/screen"); // turned away: it shows a new code, and nothing of the shop
    else tell(say("signed_out"));
  };

  // refresh fetches the board; nothing moves on the screen where nothing changed.
  let fetching = false, wanted = false;
  async function refresh() {
    if (fetching) { wanted = true; return; }
    fetching = true;
    try {
      const answer = await reach(location.pathname + "?part=board");
      if (answer.type === "opaqueredirect" || answer.status === 401) signedOut();
      else if (answer.ok) {
        const text = await answer.text();
        freshAt = Date.now();
        const same = text.replace(/data-now="\d+"/, "") === lastText;
        lastText = text.replace(/data-now="\d+"/, "");
        if (!same) replace(text);
        if (!sending) flush();
      }
    } catch { /* the age of what is shown says it */ }
    fetching = false;
    show();
    if (wanted) { wanted = false; refresh(); }
  }

  function replace(text) {
    const focus = document.activeElement && document.activeElement.id;
    const counting = $("count") && $("count").open;
    const asked = ["ask-skip", "ask-amount"].filter((id) => $(id) && !$(id).hidden);
    const mass = counting ? $("count-form").elements.mass.value : "";
    board.innerHTML = text;
    adopt();
    if (counting) { $("count").open = true; $("count-form").elements.mass.value = mass; }
    for (const id of asked) $(id).hidden = false;
    if (amount !== null) $("grams").textContent = weighed(amount);
    if (focus && $(focus)) $(focus).focus();
  }

  // adopt takes the clock of a board that has just come.
  function adopt() {
    const wall = board.firstElementChild;
    offset = Number(wall.dataset.now) - Date.now();
  }

  board.addEventListener("click", (e) => {
    const b = e.target.closest("button");
    if (!b) return;
    const cur = current();
    const li = b.closest("#next li");
    if (li) { chosen = li.dataset.for; amount = null; show(); $("main").focus(); return; }
    if (b.dataset.ack) { seen(b); return; }
    if (b.dataset.reason !== undefined) {
      $("ask-skip").hidden = true;
      if (b.dataset.reason && cur) mark(cur, "skipped", { reason: b.dataset.reason });
      return;
    }
    if (b.dataset.add) {
      amount = Math.max(0, (amount ?? Math.round(Number(cur.dataset.grams) / ROUND) * ROUND) + Number(b.dataset.add));
      $("grams").textContent = weighed(amount);
      show();
      return;
    }
    switch (b.id) {
      case "made": if (cur) mark(cur, "made", amount ? { beverage_g: amount } : {}); break;
      case "back": { const t = lastDone(); if (t) mark(t, "due"); break; }
      case "skip": $("ask-amount").hidden = true; $("ask-skip").hidden = !$("ask-skip").hidden; break;
      case "amount":
        $("ask-skip").hidden = true;
        $("ask-amount").hidden = !$("ask-amount").hidden;
        $("grams").textContent = weighed(amount ?? Math.round(Number(cur.dataset.grams)));
        break;
    }
  });

  // seen says that somebody has read a warning; it stays open until its cause is gone.
  async function seen(button) {
    button.disabled = true;
    try {
      const answer = await reach(base + "/warnings/" + encodeURIComponent(button.dataset.ack) + "/ack", { method: "POST", headers: { "X-CSRF-Token": csrf } });
      if (answer.status === 401 || answer.status === 403) { signedOut(); return; }
      if (!answer.ok && answer.status !== 404) throw new Error((await answer.json().catch(() => ({}))).detail || String(answer.status));
      tell("");
      refresh();
    } catch (err) {
      button.disabled = false;
      tell(err instanceof TypeError || err.name === "TimeoutError" ? say("no_answer") : say("not_seen", { why: err.message }));
    }
  }

  board.addEventListener("submit", async (e) => {
    if (e.target.id !== "count-form") return;
    e.preventDefault();
    const field = e.target.elements.mass;
    const grams = Number(field.value.trim().replace(",", ".")) * Number(field.dataset.grams);
    if (!(grams >= 0 && grams < 1e7)) { tell(say("no_weight", { typed: field.value, unit: field.dataset.unit })); return; }
    try {
      const answer = await reach(base + "/stock-counts", { method: "POST", headers: { "Content-Type": "application/json", "X-CSRF-Token": csrf },
        body: JSON.stringify({ counted_at: new Date(now()).toISOString(), ice_g: grams }) });
      if (!answer.ok) throw new Error((await answer.json().catch(() => ({}))).detail || String(answer.status));
      tell("");
      e.target.reset();
      $("count").open = false;
      refresh();
    } catch (err) { tell(say("count_not_taken", { why: err.message })); }
  });

  // Live events: the browser comes back by itself with the id of the last one; where it gives up we start anew from there.
  let lastEvent = "";
  function listen() {
    const live = new EventSource(base + "/live" + (lastEvent ? "?last_event_id=" + lastEvent : ""));
    let timer = 0;
    const heard = (e) => {
      if (e.lastEventId) lastEvent = e.lastEventId;
      clearTimeout(timer);
      timer = setTimeout(refresh, 60);
    };
    for (const kind of ["hello", "plan", "sheet", "mark", "warning", "stock", "setup", "demand"]) live.addEventListener(kind, heard);
    live.onerror = () => { refresh(); if (live.readyState === EventSource.CLOSED) setTimeout(listen, 10000); };
  }

  adopt();
  show();
  listen();
  flush();
  addEventListener("online", () => { refresh(); flush(); });
  addEventListener("pageshow", (e) => { if (e.persisted) refresh(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) refresh(); });
  setInterval(refresh, 60000);
  setInterval(show, 10000);
})();
