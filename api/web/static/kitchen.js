"use strict";
// The wall screen. The server sends the day's tasks; this chooses which one is shown, takes marks, keeps them while the network
// is away and sends each of them once (its key makes a second sending harmless), and fetches the board again whenever something
// happened. The last board is kept on this machine, so that a screen without a network shows it after a power cut too.
(() => {
  const site = document.body.dataset.site;
  const base = "/v1/sites/" + encodeURIComponent(site);
  let csrf = document.querySelector("meta[name=csrf]").content;
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
  const OLD = 90e3; // what is shown for so long without a sign of life says so
  const MUTE = 50e3; // a line without a beat for so long is dead, whatever the browser thinks
  const RARELY = 5 * 60e3; // the board of a screen that hears the beats
  const TWICE = 700; // a second touch so soon is a slip of a wet hand
  const ASKED = 60e3; // what came of a batch is asked for so long
  const $ = (id) => document.getElementById(id);

  let offset = 0; // the service's clock less this screen's
  let freshAt = Date.now(); // when what is shown was last known to be true, by this screen's clock
  let boardAt = 0; // when the board last came
  let stale = true; // something may have happened since
  let chosen = null; // a task that somebody brought forward
  let asking = null; // the batch marked last, while it is asked what came of it
  let lastText = "";
  const now = () => Date.now() + offset;

  // What this screen was told to be: its stations and whether it sounds.
  const own = {
    get(key) { try { return JSON.parse(localStorage.getItem("hotday." + key + "." + site)); } catch { return null; } },
    set(key, v) { try { localStorage.setItem("hotday." + key + "." + site, JSON.stringify(v)); } catch { /* until the next reload */ } },
  };
  let picked = own.get("stations"); // null: what it was let in for
  let sounds = own.get("sound") === true;
  const stations = () => picked || board.firstElementChild.dataset.mine.split("|").filter(Boolean);
  const isMine = (t) => { const list = stations(); return !list.length || list.includes(t.dataset.station); };

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
    return tasks().find((t) => isOpen(t) && isMine(t) && Number(t.dataset.at) <= now() + SOON) || null;
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
    const open = tasks().filter((t) => isOpen(t) && t !== cur);
    const coming = open.filter(isMine), elsewhere = open.filter((t) => !isMine(t));
    const idle = $("idle-words");
    if (!cur && idle && coming.length) idle.textContent = say("next", { when: coming[0].dataset.clock, what: coming[0].dataset.short });
    const shown = coming.slice(0, board.querySelector(".warn") ? 5 : 7).map((t) => t.dataset.id);
    for (const li of board.querySelectorAll("#next li")) li.hidden = !shown.includes(li.dataset.for);
    fold(elsewhere);
    for (const b of board.querySelectorAll("[data-pick]")) {
      b.setAttribute("aria-pressed", String(b.dataset.pick ? stations().includes(b.dataset.pick) : !stations().length));
    }
    $("sound").setAttribute("aria-pressed", String(sounds));
    if (mayMark) controls(cur);
    clock();
    listenFor();
  }

  // fold puts the other stations' tasks behind one line.
  function fold(elsewhere) {
    const others = $("others");
    others.hidden = !elsewhere.length;
    const due = elsewhere.filter((t) => Number(t.dataset.at) <= now() + SOON).length;
    others.firstElementChild.textContent = say(due ? "elsewhere_due" : "elsewhere", { n: elsewhere.length, due });
    const ids = elsewhere.slice(0, 12).map((t) => t.dataset.id);
    for (const li of others.querySelectorAll("li")) li.hidden = !ids.includes(li.dataset.for);
  }

  // Sound, where it was asked for: two notes when a task falls due, three for a warning to act on now. A browser lets a page
  // sound only once somebody has touched it.
  let audio = null, rung = null;
  function ring(notes) {
    if (!audio || audio.state !== "running") return;
    notes.forEach((hertz, i) => {
      const at = audio.currentTime + i * 0.22, tone = audio.createOscillator(), level = audio.createGain();
      tone.frequency.value = hertz;
      level.gain.setValueAtTime(0.0001, at);
      level.gain.exponentialRampToValueAtTime(0.3, at + 0.02);
      level.gain.exponentialRampToValueAtTime(0.0001, at + 0.2);
      tone.connect(level).connect(audio.destination);
      tone.start(at);
      tone.stop(at + 0.22);
    });
  }
  function allowSound() {
    if (!sounds || !window.AudioContext) return;
    audio ||= new AudioContext();
    if (audio.state === "suspended") audio.resume();
  }
  // listenFor rings for what has become due or urgent since it looked last; never for what stood there from the beginning.
  function listenFor() {
    const due = tasks().filter((t) => isMine(t) && Number(t.dataset.at) <= now());
    const warned = [...board.querySelectorAll(".warn.act_now")].map((w) => w.dataset.warning);
    const before = rung;
    rung = new Set([...due.map((t) => t.dataset.id), ...warned]);
    if (!sounds || !before) return;
    if (warned.some((id) => !before.has(id))) ring([660, 880, 660]);
    else if (due.some((t) => isOpen(t) && !before.has(t.dataset.id))) ring([523, 784]);
  }

  function controls(cur) {
    const made = $("made");
    made.disabled = !cur;
    made.textContent = cur ? cur.dataset.done : say("nothing_due");
    $("skip").disabled = !cur;
    const last = lastDone();
    $("back").disabled = !last;
    $("back").textContent = last ? say("take_back_what", { what: last.dataset.short }) : say("take_back");
    ask();
  }

  // ask shows the question for what came of the batch that was marked last. Nobody needs to answer, and it keeps nobody from the
  // next task: it goes by itself.
  const ofStrength = (pct) => pct.toFixed(2) + "%";
  function ask() {
    $("ask-amount").hidden = !asking;
    if (!asking) return;
    $("ask-what").textContent = say("really", { what: asking.name });
    $("grams").textContent = weighed(asking.grams ?? asking.planned);
    const measured = asking.strength !== undefined;
    $("ask-strength").hidden = !measured;
    $("measured").hidden = measured;
    $("strength").textContent = measured ? ofStrength(asking.strength) : "";
    const said = [asking.grams === undefined ? "" : weighed(asking.grams), measured ? ofStrength(asking.strength) : ""].filter(Boolean);
    $("keep").textContent = said.length ? say("keep", { what: said.join(", ") }) : say("as_planned");
  }
  function answered() {
    if (!asking) return;
    const { id, grams, strength } = asking;
    clearTimeout(asking.timer);
    asking = null;
    const more = { ...(grams === undefined ? {} : { beverage_g: grams }), ...(strength === undefined ? {} : { tds_pct: Math.round(strength * 100) / 100 }) };
    if (Object.keys(more).length) note(id, "made", more);
    show();
  }
  function waitForAnswer() {
    clearTimeout(asking.timer);
    asking.timer = setTimeout(answered, ASKED);
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

  // note keeps what was said of a task and sends it.
  function note(id, state, more) {
    const body = { state, at: new Date(now()).toISOString(), key: newKey(), ...more };
    pending.list = [...pending.list, { task: id, body }];
    flush();
  }

  function mark(t, state, more) {
    const id = t.dataset.id;
    if (asking && asking.id === id) { clearTimeout(asking.timer); asking = null; } else answered();
    taken = taken.filter((other) => other !== id);
    if (state !== "due") taken = [...taken.slice(-49), id];
    chosen = state === "due" ? id : null;
    $("ask-skip").hidden = true;
    note(id, state, more);
    if (state === "made" && Number(t.dataset.grams)) {
      asking = { id, name: t.dataset.name, planned: Math.round(Number(t.dataset.grams) / ROUND) * ROUND, tds: Number(t.dataset.tds) };
      waitForAnswer();
    }
    show();
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
        pending.list = pending.list.filter((other) => other.body.key !== m.body.key); // another tab may have sent some too
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
    forget();
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
        freshAt = boardAt = Date.now();
        stale = wanted;
        const stamped = /data-now="(\d+)"/.exec(text);
        offset = Number(stamped[1]) - freshAt; // this screen's clock may have been set
        const same = text.replace(/data-(now|minutes)="\d+"|<time id="clock">.*?<\/time>/g, "") === lastText;
        lastText = text.replace(/data-(now|minutes)="\d+"|<time id="clock">.*?<\/time>/g, "");
        if (!same) replace(text);
        keep(text);
        if (!sending) flush();
      }
    } catch { /* the age of what is shown says it */ }
    fetching = false;
    show();
    renewed();
    if (wanted) { wanted = false; refresh(); }
  }

  const busy = () => asking || pending.list.length || sending || !$("age").hidden || [...document.querySelectorAll("details")].some((d) => d.open) ||
    (mayMark && !$("ask-skip").hidden);
  // renewed loads the page anew where the service has become a newer program, once nobody is in the middle of something.
  function renewed() {
    const wall = board.firstElementChild;
    if (wall.dataset.program === document.body.dataset.program || busy() || Date.now() - (own.get("renewed") || 0) < 10 * 60e3) return;
    own.set("renewed", Date.now());
    location.reload();
  }

  function replace(text) {
    const focus = document.activeElement && document.activeElement.id;
    const open = [...board.querySelectorAll("details[open]")].map((d) => d.id);
    const mass = open.includes("count") ? $("count-form").elements.mass.value : "";
    const skipping = mayMark && !$("ask-skip").hidden;
    const scrolled = [...board.querySelectorAll("#main, .next")].map((e) => e.scrollTop);
    board.innerHTML = text;
    adopt(freshAt);
    for (const id of open) if ($(id)) $(id).open = true;
    if (mass) $("count-form").elements.mass.value = mass;
    if (skipping) $("ask-skip").hidden = false;
    [...board.querySelectorAll("#main, .next")].forEach((e, i) => { e.scrollTop = scrolled[i]; });
    if (focus && $(focus)) $(focus).focus();
  }

  // adopt takes the clock of a board that came at a time of this screen's.
  function adopt(cameAt) {
    const wall = board.firstElementChild;
    offset = Number(wall.dataset.now) - cameAt;
    csrf = wall.dataset.csrf || csrf;
  }

  // keep stores the board as a page of its own, with the files that it needs, for when there is no network (kitchen-worker.js).
  const shelf = "hotday." + location.pathname;
  let keptAt = 0, toKeep = "", keeping = 0;
  function keep(text) {
    if (!window.caches) return; // only over HTTPS or on the machine itself
    toKeep = text;
    if (!keeping) keeping = setTimeout(write, Math.max(0, keptAt + 20e3 - Date.now()));
  }
  async function write() {
    keeping = 0;
    keptAt = Date.now();
    const body = document.body.cloneNode(false);
    body.dataset.kept = String(boardAt || freshAt);
    const wall = document.createElement("div");
    wall.id = "board";
    wall.innerHTML = toKeep;
    body.append(wall, Object.assign(document.createElement("p"), { id: "trouble", className: "wrong", hidden: true }));
    const page = "<!doctype html><html lang=\"" + document.documentElement.lang + "\">" + document.head.outerHTML + body.outerHTML + "</html>";
    try {
      const store = await caches.open(shelf);
      const files = [...document.querySelectorAll("script[src], link[href]")].map((e) => e.src || e.href);
      const had = (await store.keys()).map((r) => r.url);
      await store.addAll(files.filter((f) => !had.includes(f)));
      await store.put(location.pathname, new Response(page, { headers: { "Content-Type": "text/html; charset=utf-8",
        "Content-Security-Policy": "default-src 'none'; script-src 'self'; worker-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'" } }));
      for (const url of had) if (!files.includes(url) && url !== location.origin + location.pathname) await store.delete(url);
    } catch { /* no room or no right: then without */ }
  }
  function forget() {
    clearTimeout(keeping);
    keeping = 0;
    if (window.caches) caches.delete(shelf).catch(() => {});
  }

  board.addEventListener("click", (e) => {
    const b = e.target.closest("button");
    if (!b) return;
    const cur = current();
    if (b.id !== "made") touchedAt = -TWICE;
    const li = b.closest("#next li, #others li");
    if (li) { chosen = li.dataset.for; show(); $("main").focus(); $("main").scrollTop = 0; return; }
    if (b.dataset.pick !== undefined) { pick(b.dataset.pick); return; }
    if (b.dataset.ack) { seen(b); return; }
    if (b.dataset.reason !== undefined) {
      $("ask-skip").hidden = true;
      if (b.dataset.reason && cur) mark(cur, "skipped", { reason: b.dataset.reason });
      return;
    }
    if (b.dataset.add && asking) {
      asking.grams = Math.max(ROUND, (asking.grams ?? asking.planned) + Number(b.dataset.add));
      waitForAnswer();
      ask();
      return;
    }
    if (b.dataset.stronger && asking) {
      asking.strength = Math.min(30, Math.max(0.01, asking.strength + Number(b.dataset.stronger)));
      waitForAnswer();
      ask();
      return;
    }
    switch (b.id) {
      case "made": {
        const slip = e.timeStamp - touchedAt < TWICE;
        touchedAt = e.timeStamp;
        if (cur && !slip) mark(cur, "made");
        break;
      }
      case "back": { const t = lastDone(); if (t) mark(t, "due"); break; }
      case "skip": answered(); $("ask-skip").hidden = !$("ask-skip").hidden; break;
      case "measured": if (asking) { asking.strength = asking.tds || 1.3; waitForAnswer(); ask(); board.querySelector("[data-stronger]").focus(); } break;
      case "keep": answered(); $("main").focus(); break;
      case "sound":
        sounds = !sounds;
        own.set("sound", sounds);
        allowSound();
        if (sounds) (audio && audio.state === "suspended" ? audio.resume() : Promise.resolve()).then(() => ring([523, 784]));
        show();
        break;
    }
  });
  let touchedAt = -TWICE;
  addEventListener("pointerdown", allowSound);
  addEventListener("keydown", allowSound);

  // pick shows a station's tasks or folds them; "" shows all.
  function pick(name) {
    const list = stations();
    picked = !name ? [] : list.includes(name) ? list.filter((n) => n !== name) : [...list, name];
    own.set("stations", picked);
    chosen = null;
    show();
  }

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

  // Live events: the browser comes back by itself with the id of the last one; where it gives up, or the line is dead, we start
  // anew from there. A mark is shown as it comes; the board follows, not from all screens at the same moment.
  let lastEvent = "", live = null, heardAt = 0, timer = 0, anew = 0;
  function soon(wait) {
    clearTimeout(timer);
    timer = setTimeout(refresh, wait);
  }
  function listen() {
    clearTimeout(anew);
    if (live) live.close();
    heardAt = performance.now();
    live = new EventSource(base + "/live" + (lastEvent ? "?last_event_id=" + lastEvent : ""));
    const heard = (e) => {
      heardAt = performance.now();
      if (e.lastEventId) lastEvent = e.lastEventId;
      if (e.type === "beat") { if (!stale) freshAt = Date.now(); return; }
      stale = true;
      if (e.type !== "mark") { soon(40 + 200 * Math.random()); return; }
      const said = (() => { try { return JSON.parse(e.data).data; } catch { return null; } })();
      const t = said && byId(said.task);
      if (t && said.state) { t.dataset.state = said.state; show(); }
      soon(t ? 300 + 1500 * Math.random() : 40);
    };
    for (const kind of ["hello", "beat", "plan", "sheet", "mark", "warning", "stock", "setup", "demand"]) live.addEventListener(kind, heard);
    live.onerror = () => { stale = true; refresh(); if (live.readyState === EventSource.CLOSED) { clearTimeout(anew); anew = setTimeout(listen, 10000); } };
  }

  // look comes round every few seconds: it moves the clock, and sees a line gone dead, a sleep, and a clock that was set.
  let wall = Date.now(), steady = performance.now();
  function look() {
    const slipped = (Date.now() - wall) - (performance.now() - steady); // asleep, or the clock was set
    wall = Date.now();
    steady = performance.now();
    if (Math.abs(slipped) > 5000) {
      if (slipped < 0) { freshAt += slipped; boardAt += slipped; offset -= slipped; } // nobody sleeps backwards
      listen();
      refresh();
    }
    if (performance.now() - heardAt > MUTE) listen();
    if (Date.now() - boardAt >= (performance.now() - heardAt < MUTE - 10e3 && freshAt > boardAt ? RARELY : 60e3)) refresh();
    show();
  }

  const kept = Number(document.body.dataset.kept) || 0; // this page is one that was kept, at that time
  freshAt = kept || Date.now();
  boardAt = kept || Date.now();
  adopt(freshAt);
  const first = board.innerHTML;
  show();
  listen();
  flush();
  if (kept) refresh();
  else keep(first);
  if (navigator.serviceWorker) navigator.serviceWorker.register(location.pathname + "-worker.js", { scope: location.pathname }).catch(() => {});
  addEventListener("online", () => { listen(); refresh(); flush(); });
  addEventListener("pageshow", (e) => { if (e.persisted) { listen(); refresh(); } });
  addEventListener("pagehide", answered);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  setInterval(look, 5000);
})();
