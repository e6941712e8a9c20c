"use strict";
// The page Count: one thing at a time in the lower half of a phone. What was found is kept on this device until the service has
// it; the moment it was counted goes along, so that sending it twice changes nothing.
(() => {
  const body = document.body, site = body.dataset.site;
  const csrf = document.querySelector("meta[name=csrf]").content;
  const texts = JSON.parse(body.dataset.words);
  const say = (key, more) => texts[key].replace(/\{(\w+)\}/g, (all, name) => (more && name in more ? more[name] : all));
  const q = quantity({ pounds: "pounds" in body.dataset, gallons: "gallons" in body.dataset });
  const $ = (id) => document.getElementById(id);
  const things = [...document.querySelectorAll("#things > li")];
  const offset = Number(body.dataset.now) - Date.now();
  const now = () => new Date(Date.now() + offset);

  const keep = (name) => ({
    get value() { try { return JSON.parse(localStorage.getItem(name)); } catch { return this.memory; } },
    set value(v) { this.memory = v; try { if (v === null) localStorage.removeItem(name); else localStorage.setItem(name, JSON.stringify(v)); } catch { /* kept in memory */ } },
    memory: null,
  });
  const draft = keep("hotday.count." + site); // what was found and is not saved yet
  const waiting = keep("hotday.counts." + site); // saved counts that the service has not got yet
  const DRAFT_FOR = 30 * 60e3;

  const keyOf = (li) => [li.dataset.kind, li.dataset.beverage, li.dataset.made, li.dataset.lot].join("|");
  const amountOf = (li, x) => li.dataset.base === "L" ? q.litres(x) : q.mass(x);
  let found = new Map(); // key → {x, share, made, place}
  let done = []; // keys in the order in which they were found, for taking back
  let at = null; // the thing in hand
  let share = null, place = "", byLine = false;

  const old = draft.value;
  if (old && Date.now() - old.at < DRAFT_FOR) {
    found = new Map(old.found.filter(([key]) => things.some((li) => keyOf(li) === key)));
    done = [...found.keys()];
  }
  const remember = () => { draft.value = found.size ? { at: Date.now(), found: [...found] } : null; };

  // list writes what was found beside what was expected.
  function list() {
    for (const li of things) {
      const f = found.get(keyOf(li));
      const words = li.querySelector(".found"), beside = li.querySelector(".beside-expected");
      words.textContent = f ? (f.share === undefined ? amountOf(li, f.x) : say("about", { amount: amountOf(li, f.x) })) : say("not_yet");
      li.classList.toggle("is-found", !!f);
      li.querySelector("button").toggleAttribute("aria-current", li === at);
      beside.hidden = !f;
      if (!f) continue;
      const off = f.x - Number(li.dataset.expected), by = amountOf(li, Math.abs(off));
      const same = Math.abs(off) <= Math.max(0.03 * Number(li.dataset.expected), li.dataset.base === "L" ? 0.5 : 50);
      const far = !same && Math.abs(off) > 0.25 * Math.max(Number(li.dataset.expected), f.x);
      beside.textContent = [li.dataset.says, same ? say("as_expected") : say(off < 0 ? "less" : "more", { by }), far ? say("look_again") : ""].filter(Boolean).join(" ");
    }
    $("save").hidden = !found.size;
    $("save").textContent = say("save_n", { n: found.size });
    $("save").classList.toggle("lesser", !!at);
    $("undo").disabled = !done.length;
  }

  const field = $("amount");
  const typed = () => at.dataset.base === "L" ? q.readVolume(field.value, at.dataset.unit) : q.readMass(field.value, at.dataset.unit);
  const inUnit = (li, x) => { const v = x / Number(li.dataset.per); return String(Number(v.toFixed(v < 10 ? 2 : 1))); };
  const complain = (text) => { $("wrong").hidden = !text; $("wrong").textContent = text; field.toggleAttribute("aria-invalid", !!text); };

  // take puts a thing in hand.
  function take(li, focus) {
    at = li;
    complain("");
    for (const id of ["found", "pass", "care", "hand-detail"]) $(id).hidden = !li;
    if (!li) {
      for (const id of ["means", "line", "weight", "label-time", "places"]) $(id).hidden = true;
      $("hand-name").textContent = say(found.size ? "all_done" : "nothing_in_hand");
      list();
      return;
    }
    const f = found.get(keyOf(li)), d = li.dataset;
    $("hand-name").textContent = d.name;
    const detail = li.querySelector(".detail");
    $("hand-detail").textContent = detail ? detail.textContent : "";
    $("amount-name").textContent = say(d.base === "L" ? "field_volume" : "field_mass", { what: d.name, unit: d.unit });
    field.value = f ? inUnit(li, f.x) : "";
    share = f && f.share !== undefined ? f.share : null;
    byLine = "level" in d && (!f || f.share !== undefined);
    $("means").hidden = !("level" in d);
    $("label-time").hidden = !(d.kind === "beverage" && !d.made);
    $("made").value = f && f.clock ? f.clock : "";
    place = f && f.place ? f.place : d.place;
    $("places").hidden = d.kind !== "lot";
    $("care").textContent = d.care;
    $("steppers").replaceChildren(...d.steps.split(";").filter(Boolean).map((s) => {
      const [step, words] = s.split("=");
      const b = document.createElement("button");
      b.type = "button";
      b.dataset.step = step;
      b.textContent = words;
      return b;
    }));
    draw();
    list();
    if (focus) $("hand-name").focus({ preventScroll: true });
  }

  function draw() {
    if (!at) return;
    $("line").hidden = !byLine;
    $("weight").hidden = byLine;
    $("by-line").setAttribute("aria-pressed", byLine);
    $("by-weight").setAttribute("aria-pressed", !byLine);
    for (const b of $("places").children) b.setAttribute("aria-pressed", b.dataset.place === place);
    for (const b of document.querySelectorAll("[data-share]")) b.setAttribute("aria-pressed", share !== null && Number(b.dataset.share) === share);
    const y = 100 - 100 * (share ?? 0);
    $("vessel").querySelector(".stood").setAttribute("y", y);
    $("vessel").querySelector(".stood").setAttribute("height", 100 - y);
    $("vessel").querySelector(".surface").setAttribute("d", "M0 " + y + "H100");
    $("estimate").textContent = share === null ? "" : say(at.dataset.kind === "tank" ? "estimate_tank" : "estimate",
      { share: Math.round(100 * share), amount: amountOf(at, share * Number(at.dataset.full)) });
    const x = byLine ? (share === null ? NaN : share * Number(at.dataset.full)) : typed();
    $("found").textContent = Number.isNaN(x) ? say("found") : say("found_amount", { amount: amountOf(at, x) });
  }

  const next = (li) => {
    const i = things.indexOf(li);
    return [...things.slice(i + 1), ...things.slice(0, i)].find((t) => !found.has(keyOf(t)) && !t.dataset.passed) || null;
  };

  // madeAt reads the time on a label: today's, or yesterday's where that is still to come.
  function madeAt(clock) {
    const [h, m] = clock.split(":").map(Number), zone = Number(body.dataset.zoneMinutes) * 60e3;
    const t = new Date(now().getTime() + zone); // the site's clock, read as UTC
    t.setUTCHours(h, m, 0, 0);
    t.setTime(t.getTime() - zone);
    if (t > now()) t.setTime(t.getTime() - 24 * 3600e3);
    return t.toISOString();
  }

  function keepFound(e) {
    e.preventDefault();
    if (!at) return;
    const d = at.dataset, x = byLine ? (share === null ? NaN : share * Number(d.full)) : typed();
    if (Number.isNaN(x)) { complain(say("no_amount", { typed: byLine ? "" : field.value, unit: d.unit })); if (!byLine) field.focus(); return; }
    if (Number(d.most) > 0 && x > Number(d.most) * 1.0001) { complain(say("too_much", { amount: amountOf(at, Number(d.most)) })); return; }
    const f = { x: Number(d.most) > 0 ? Math.min(x, Number(d.most)) : x };
    if (byLine) f.share = share;
    if (d.kind === "lot") f.place = place;
    if (d.kind === "beverage") {
      if (!d.made && x > 0 && !$("made").value) { complain(say("no_time")); $("made").focus(); return; }
      f.clock = $("made").value;
      f.made = d.made || (f.clock ? madeAt(f.clock) : "");
    }
    const key = keyOf(at);
    found.set(key, f);
    done = [...done.filter((k) => k !== key), key];
    remember();
    go(at);
  }

  function go(from) {
    const to = next(from);
    take(to);
    if (to) { to.scrollIntoView({ block: "nearest" }); $("hand").scrollIntoView({ block: "nearest" }); tell(""); } else $("save").focus();
  }

  $("hand").addEventListener("submit", keepFound);
  $("pass").addEventListener("click", () => { at.dataset.passed = "1"; go(at); });
  $("undo").addEventListener("click", () => {
    const key = done.pop();
    found.delete(key);
    remember();
    const li = things.find((t) => keyOf(t) === key);
    delete li.dataset.passed;
    take(li);
  });
  $("by-line").addEventListener("click", () => { byLine = true; draw(); });
  $("by-weight").addEventListener("click", () => {
    byLine = false;
    if (!field.value && share !== null) field.value = inUnit(at, share * Number(at.dataset.full));
    draw();
  });
  $("line").addEventListener("click", (e) => {
    const b = e.target.closest("button");
    if (b) share = "share" in b.dataset ? Number(b.dataset.share) : Math.min(1, Math.max(0, Math.round(((share ?? 0.5) + Number(b.dataset.more)) * 20) / 20));
    else if (e.target.closest("#vessel")) {
      const box = $("vessel").getBoundingClientRect();
      share = Math.min(1, Math.max(0, Math.round((1 - (e.clientY - box.top) / box.height) * 20) / 20));
    } else return;
    complain("");
    draw();
  });
  $("steppers").addEventListener("click", (e) => {
    const b = e.target.closest("button");
    if (!b) return;
    const x = typed();
    field.value = inUnit(at, Math.max(0, (Number.isNaN(x) ? 0 : x) + Number(b.dataset.step)));
    complain("");
    draw();
  });
  $("places").addEventListener("click", (e) => { const b = e.target.closest("button"); if (b) { place = b.dataset.place; draw(); } });
  field.addEventListener("input", () => { complain(""); draw(); });
  for (const li of things) li.querySelector("button").addEventListener("click", () => { delete li.dataset.passed; take(li, true); });
  $("hand-name").tabIndex = -1;
  // What comes into view by itself stays clear of the hand.
  new ResizeObserver(() => body.style.setProperty("--inhand", $("hand").offsetHeight + "px")).observe($("hand"));

  const tell = (text) => { $("said").textContent = text; };

  // count makes the document that is sent; null where a batch of a beverage that was counted is still to be looked at.
  function count() {
    const out = { counted_at: now().toISOString() };
    for (const li of things) {
      const d = li.dataset, f = found.get(keyOf(li));
      if (!f) continue;
      if (d.kind === "ice") out.ice_g = f.x;
      if (d.kind === "plain") out.plain_ice_g = f.x;
      if (d.kind === "tank") out.tank_l = f.x;
      if (d.kind === "lot") (out.lots ||= []).push({ lot: d.lot, grams: f.x, place: f.place });
      if (d.kind !== "beverage") continue;
      const rest = things.find((t) => t.dataset.beverage === d.beverage && t.dataset.made && !found.has(keyOf(t)));
      if (rest) {
        take(rest);
        complain(say("rest", { what: d.name }));
        return null;
      }
      (out.beverages ||= []).push({ beverage: d.beverage, g: f.x, made_at: f.made || out.counted_at });
    }
    return out;
  }

  $("save").addEventListener("click", () => {
    const doc = count();
    if (!doc) return;
    waiting.value = [...(waiting.value || []), doc];
    found.clear();
    done = [];
    remember();
    for (const li of things) delete li.dataset.passed;
    take(null);
    tell(say("saving"));
    flush();
  });

  // flush sends what waits, one after the other.
  let sending = false, timer = 0;
  async function flush() {
    if (sending) return;
    sending = true;
    clearTimeout(timer);
    try {
      while ((waiting.value || []).length) {
        const doc = waiting.value[0];
        const answer = await fetch("/v1/sites/" + encodeURIComponent(site) + "/stock-counts", { method: "POST", redirect: "manual", signal: AbortSignal.timeout(10000),
          headers: { "Content-Type": "application/json", "X-CSRF-Token": csrf }, body: JSON.stringify(doc) });
        if (answer.status === 401 || answer.status === 403) { tell(say("signed_out")); break; }
        if (answer.status === 408 || answer.status === 429 || answer.status >= 500) throw new Error("later");
        waiting.value = waiting.value.slice(1);
        if (answer.ok) saved();
        else {
          const p = await answer.json().catch(() => ({}));
          const why = [p.detail || p.title || answer.status, ...(p.errors || []).map((e) => e.detail)].join("; ");
          tell(say("refused", { why }));
        }
      }
    } catch {
      tell(say("kept"));
      timer = setTimeout(flush, 8000);
    }
    sending = false;
  }

  function saved() {
    tell(say("saved") + " ");
    const again = document.createElement("a");
    again.href = location.pathname;
    again.textContent = say("again");
    $("said").append(again);
  }

  addEventListener("online", flush);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) flush(); });
  take(things.find((li) => !found.has(keyOf(li))) || null);
  if ((waiting.value || []).length) flush();
})();
