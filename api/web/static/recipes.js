"use strict";
// The page Recipes: every turn of a dial asks the service's calculations, the last answer wins, and nothing is kept until it is
// saved as part of the set-up.
(() => {
  const body = document.body, { site, code } = body.dataset;
  if (!code) return;
  const csrf = document.querySelector("meta[name=csrf]").content;
  const texts = JSON.parse(body.dataset.words);
  const say = (key, more) => texts[key].replace(/\{(\w+)\}/g, (all, name) => (more && name in more ? more[name] : all));
  const q = quantity({ pounds: "pounds" in body.dataset, fahrenheit: "fahrenheit" in body.dataset });
  const $ = (id) => document.getElementById(id);
  const stored = JSON.parse(body.dataset.stored), around = JSON.parse(body.dataset.around);
  const asSet = stored.find((b) => b.code === code);
  let trial = structuredClone(asSet);
  const tried = { ice_temp_c: around.ice_temp_c, batch_g: 0 }; // tried with, no part of the recipe
  const dials = [...document.querySelectorAll(".dial")];
  const steeped = asSet.method === "steeped";

  // reached throws an Error with the problem document of an answer that is none.
  async function post(path, doc, options) {
    const answer = await fetch(path, { method: "POST", redirect: "manual", ...options, headers: { "Content-Type": "application/json", "X-CSRF-Token": csrf, ...(options || {}).headers }, body: JSON.stringify(doc) });
    if (answer.ok) return answer;
    const e = new Error(String(answer.status));
    e.status = answer.status;
    e.problem = await answer.json().catch(() => ({}));
    throw e;
  }
  const whyOf = (e) => (e.problem.errors || []).map((x) => x.detail + (x.accepted ? " (" + x.accepted + ")" : "")).join("; ") || e.problem.detail || e.problem.title || e.message;

  // Dials: a number and a slider that follow each other.
  const shown = (d, x) => Number((x / Number(d.dataset.factor) + Number(d.dataset.shift)).toFixed(3));
  const kept = (d, x) => Number(((x - Number(d.dataset.shift)) * Number(d.dataset.factor)).toFixed(6));
  const valueOf = (d) => "saved" in d.dataset ? trial[d.dataset.id] : tried[d.dataset.id];
  const numberIn = (d) => d.querySelector("[inputmode]");
  const sliderIn = (d) => d.querySelector("[type=range]");

  function put(d, x) {
    if ("saved" in d.dataset) trial[d.dataset.id] = x; else tried[d.dataset.id] = x;
  }
  function turn(d, from) {
    const text = from.value, x = from === sliderIn(d) ? Number(text) : readNumber(text);
    from.toggleAttribute("aria-invalid", Number.isNaN(x));
    if (Number.isNaN(x)) { tell(say("not_a_number", { typed: text })); return; }
    tell("");
    put(d, kept(d, x));
    if (from === sliderIn(d)) numberIn(d).value = text; else stretch(d, x);
    valueText(d);
    ask();
  }
  const readNumber = (text) => { const minus = /^[-−]/.test(text.trim()); const x = q.digits(text.trim().replace(/^[-−]/, "")); return minus ? -x : x; };
  // stretch lets a slider reach what was typed beyond its ends.
  function stretch(d, x) {
    const s = sliderIn(d);
    if (x < Number(s.min)) s.min = x;
    if (x > Number(s.max)) s.max = x;
    s.value = x;
  }
  const valueText = (d) => sliderIn(d).setAttribute("aria-valuetext", numberIn(d).value + " " + d.querySelector(".unit").textContent);
  function show() {
    for (const d of dials) {
      const x = shown(d, valueOf(d));
      numberIn(d).value = x;
      stretch(d, x);
      valueText(d);
    }
    if ($("bath")) $("bath").checked = trial.bath;
  }
  for (const d of dials) {
    if (!("saved" in d.dataset)) tried[d.dataset.id] = kept(d, Number(numberIn(d).value));
    valueText(d);
    sliderIn(d).addEventListener("input", (e) => turn(d, e.target));
    numberIn(d).addEventListener("input", (e) => turn(d, e.target));
  }
  if ($("bath")) $("bath").addEventListener("change", () => { trial.bath = $("bath").checked; ask(); });
  $("dials").addEventListener("submit", (e) => e.preventDefault());

  // ask waits for the hand to rest a moment; an answer that a later question overtook is not shown.
  let timer = 0, asked = 0, flying = null;
  function ask() {
    differs();
    clearTimeout(timer);
    timer = setTimeout(answerNow, 90);
  }
  const calc = (kind, doc, signal) => post("/v1/calc/" + kind, doc, { signal }).then((a) => a.json());

  async function answerNow() {
    const mine = ++asked;
    if (flying) flying.abort();
    flying = new AbortController();
    const { signal } = flying, t = structuredClone(trial), outC = steeped ? t.steep_temp_c : t.brewer_out_temp_c;
    const coffee = { retained_ratio: t.retained_ratio, max_yield_pct: t.max_yield_pct };
    const perDose = t.ratio + t.max_yield_pct / 100 - t.retained_ratio;
    const least = t.retained_ratio / (1 - t.ice_share);
    if (!(t.ratio > least * 1.0001) || perDose <= 0) {
      refuse(say("too_little", { ratio: q.number(t.ratio, 1), least: q.number(Math.ceil(least * 10 + 0.1) / 10, 1), usable: q.number(Math.ceil(8 / (1 - t.ice_share) * 10) / 10, 1) }));
      return;
    }
    const dose = Math.max(1, tried.batch_g / perDose);
    const split = { dose_g: dose, total_water_g: t.ratio * dose, ice_share: t.ice_share, brewer_out_temp_c: outC, ice_temp_c: tried.ice_temp_c, target_temp_c: t.target_temp_c,
      wet_share: around.wet_share, altitude_m: around.altitude_m, ...coffee };
    try {
      const out = await calc("ice-split", split, signal);
      const more = { dose_g: dose, brew_water_g: out.brew_water_g, method: t.method, ...coffee };
      if (around.serving_g > 0) more.serving_g = around.serving_g * out.beverage_before_ice_g / out.final_beverage_g;
      const wished = { target_tds_pct: t.target_tds_pct, ice_share: t.ice_share, ...coffee };
      const [brewed, ratio, cooling] = await Promise.all([calc("extraction", more, signal), calc("ratio", wished, signal).catch((e) => { if (e.status === 422) return e; throw e; }), coolTime(t, out, outC, signal)]);
      if (mine === asked) told(t, outC, dose, out, brewed, ratio, cooling);
    } catch (e) {
      if (mine !== asked || e.name === "AbortError") return;
      if (e.status === 422) refuse(whyOf(e) + ".");
      else tell(e.status === 401 || e.status === 403 ? say("signed_out") : say("no_answer"));
    }
  }

  async function coolTime(t, out, outC, signal) {
    const to = Math.max(out.precool_needed_c, t.bath_temp_c + 1);
    if (!t.cooling_ua_w_per_k || !t.bath || !(to < outC - 0.05)) return null;
    return calc("cool-time", { mass_g: out.beverage_before_ice_g, temp_c: outC, ambient_temp_c: t.bath_temp_c, ua_w_per_k: t.cooling_ua_w_per_k, to_temp_c: to }, signal)
      .catch((e) => { if (e.status === 422) return null; throw e; });
  }

  function refuse(words) {
    $("impossible").hidden = false;
    $("impossible").textContent = words;
    for (const id of ["o-tds", "o-yield", "o-temp", "o-cool"]) $(id).textContent = "–";
    for (const id of ["o-do", "o-cooling", "o-wished"]) $(id).textContent = "";
    $("set-ratio").hidden = true;
  }

  function told(t, outC, dose, out, brewed, ratio, cooling) {
    const needs = out.precool_needed_c < outC - 0.05, outside = t.bath || t.method !== "flash";
    const rests = t.rest_temp_c !== null && t.rest_temp_c <= out.precool_needed_c + 1e-6;
    const amounts = { water: q.grams(out.brew_water_g), dose: q.grams(dose), ice: q.grams(out.ice_g), batch: q.mass(out.final_beverage_g) };
    const temps = { out: q.temp(outC), target: q.temp(t.target_temp_c), once: q.temp(out.final_temp_if_iced_at_once_c), cool: q.temp(Math.floor(out.precool_needed_c)), ice: q.grams(out.ice_g), brew: q.mass(out.beverage_before_ice_g) };
    let refusal = "", how = "";
    if (needs && steeped) how = t.target_temp_c >= around.store_temp_c || out.precool_needed_c >= around.store_temp_c ? say("by_store") : "";
    else if (needs && rests) how = say("by_rest", { ...temps, rest: q.temp(t.rest_temp_c) });
    else if (needs && t.bath && out.precool_needed_c <= t.bath_temp_c) refusal = say("bath_too_warm", { ...temps, bath: q.temp(t.bath_temp_c) });
    else if (needs && outside) how = cooling ? say("by_bath_min", { ...temps, minutes: Math.ceil(cooling.minutes) }) : t.bath ? say("by_bath", temps) : say("by_store");
    else if (needs && out.ice_g < 0.5) refusal = say("impossible_no_ice", temps);
    else if (needs && out.share_needed_without_precool !== null) refusal = say("impossible_share", { ...temps, share: Math.ceil(100 * out.share_needed_without_precool) });
    else if (needs) refusal = say("impossible", temps);
    $("impossible").hidden = !refusal;
    $("impossible").textContent = refusal;
    $("o-tds").textContent = q.number(out.final_tds_pct, 2) + "%";
    $("o-yield").textContent = q.number(out.yield_pct, 1) + "%";
    $("o-temp").textContent = q.temp(refusal ? out.final_temp_if_iced_at_once_c : out.final_temp_c);
    $("o-cool").textContent = needs ? temps.cool : say("nothing_first");
    $("o-do").textContent = steeped ? say(out.ice_g >= 0.5 ? "steep_ice" : "steep", amounts) : say(out.ice_g >= 0.5 ? "pour" : "pour_plain", amounts);
    $("o-cooling").textContent = how;
    wishedStrength(t, out, ratio);
    $("cautions").replaceChildren(...[...new Set([...out.cautions, ...brewed.cautions, ...(cooling ? cooling.cautions : [])])].map((c) => {
      const li = document.createElement("li");
      li.textContent = c.charAt(0).toUpperCase() + c.slice(1) + (/[.!?]$/.test(c) ? "" : ".");
      return li;
    }));
    mark(out.yield_pct, out.final_tds_pct);
  }

  let better = null;
  function wishedStrength(t, out, ratio) {
    better = null;
    const there = Math.abs(out.final_tds_pct - t.target_tds_pct) < 0.015;
    if (ratio instanceof Error) {
      const [first] = ratio.problem.errors || [{ detail: ratio.message, accepted: "" }];
      $("o-wished").textContent = there ? say("strength_is") : say("no_strength", { why: first.detail, right: first.accepted });
    } else if (there) $("o-wished").textContent = say("strength_is");
    else {
      better = Number(ratio.ratio.toFixed(2));
      $("o-wished").textContent = say("strength_by", { wished: q.number(t.target_tds_pct, 2), ratio: q.number(better, 1) });
      $("set-ratio").textContent = say("set_ratio", { ratio: q.number(better, 1) });
    }
    $("set-ratio").hidden = better === null;
  }
  $("set-ratio").addEventListener("click", () => {
    if (better === null) return;
    trial.ratio = better;
    show();
    ask();
    $("n-ratio").focus();
  });

  // The plot
  const chart = document.querySelector(".brew-chart"), s = chart.dataset;
  const clamp = (x, lo, hi) => Math.min(hi, Math.max(lo, x));
  const chartX = (y) => Number(s.left) + (Number(s.right) - Number(s.left)) * clamp((y - s.yieldLow) / (s.yieldHigh - s.yieldLow), 0, 1);
  const chartY = (tds) => Number(s.base) - (Number(s.base) - Number(s.top)) * clamp(tds / s.most, 0, 1);
  const mark = (y, tds) => $("tried-mark").setAttribute("transform", "translate(" + chartX(y) + " " + chartY(tds) + ")");

  // What saving would change
  function differs() {
    const rows = [];
    for (const d of dials) {
      const id = d.dataset.id;
      if (!("saved" in d.dataset) || Math.abs(trial[id] - asSet[id]) < 1e-9) continue;
      const unit = " " + d.querySelector(".unit").textContent;
      rows.push(say("changed", { what: d.querySelector("label").textContent, from: shown(d, asSet[id]) + unit, to: shown(d, trial[id]) + unit }));
    }
    if (trial.bath !== asSet.bath) rows.push(say("changed", { what: say("bath"), from: say(asSet.bath ? "yes" : "no"), to: say(trial.bath ? "yes" : "no") }));
    const other = Object.keys(trial).filter((k) => k !== "bath" && !dials.some((d) => d.dataset.id === k) && JSON.stringify(trial[k]) !== JSON.stringify(asSet[k]));
    for (const k of other) rows.push(say("changed", { what: k, from: asSet[k], to: trial[k] }));
    $("differs").replaceChildren(...rows.map((r) => { const li = document.createElement("li"); li.textContent = r; return li; }));
    $("no-difference").hidden = rows.length > 0;
    $("save").disabled = rows.length === 0;
  }
  const tell = (text) => { $("said").textContent = text; };

  $("save").addEventListener("click", async () => {
    $("save").disabled = true;
    tell(say("saving"));
    try {
      await post("/v1/sites/" + encodeURIComponent(site) + "/setup/beverages", stored.map((b) => (b.code === code ? trial : b)),
        { method: "PUT", headers: { "If-Match": '"' + body.dataset.etag + '"' } });
      try { sessionStorage.setItem("hotday.recipe.saved", code); } catch { /* it is told by the history alone */ }
      location.reload();
    } catch (e) {
      tell(e.status === 412 || e.status === 409 ? say("conflict") : e.status === 401 ? say("signed_out") : e.problem ? say("refused", { why: whyOf(e) }) : say("no_answer"));
      $("save").disabled = false;
    }
  });
  $("reset").addEventListener("click", () => { trial = structuredClone(asSet); show(); ask(); });
  for (const b of document.querySelectorAll("[data-recipe]")) {
    b.addEventListener("click", () => { trial = JSON.parse(b.dataset.recipe); show(); ask(); $("dials-name").scrollIntoView({ block: "start" }); $("n-ratio").focus({ preventScroll: true }); });
  }

  // Measured brews
  const notebook = "hotday.brews." + site + "." + asSet.coffee;
  const columns = ["dose", "water", "beverage", "tds"];
  const rows = () => [...$("brews").tBodies[0].rows];
  function addBrew(values) {
    const n = rows().length + 1, tr = $("brews").tBodies[0].insertRow();
    const th = document.createElement("th");
    th.scope = "row";
    th.textContent = say("brew_n", { n });
    tr.append(th);
    columns.forEach((name, i) => {
      const td = tr.insertCell(), input = document.createElement("input");
      td.dataset.label = say(name) + (name === "tds" ? "" : ", " + body.dataset.unit);
      input.inputMode = "decimal";
      input.setAttribute("aria-label", say(name + "_of", { n }));
      input.value = (values || [])[i] || "";
      input.addEventListener("input", keepBrews);
      td.append(input);
    });
  }
  function keepBrews() {
    try { localStorage.setItem(notebook, JSON.stringify(rows().map((r) => [...r.querySelectorAll("input")].map((i) => i.value)))); } catch { /* kept on the page alone */ }
    crosses();
  }
  // read gives the brews that have all four numbers; null where one has only some, or one that is none.
  function readBrews() {
    const out = [];
    for (const r of rows()) {
      const values = [...r.querySelectorAll("input")].map((i) => i.value.trim());
      if (values.every((v) => v === "")) continue;
      const [dose, water, beverage] = values.slice(0, 3).map((v) => q.readMass(v, body.dataset.unit)), tds = q.digits(values[3].replace("%", ""));
      if ([dose, water, beverage, tds].some((x) => !(x > 0))) return null;
      out.push({ dose_g: dose, brew_water_g: water, beverage_g: beverage, tds_pct: tds });
    }
    return out;
  }
  function crosses() {
    const svg = "http://www.w3.org/2000/svg";
    $("measured-marks").replaceChildren(...(readBrews() || []).map((b) => {
      const p = document.createElementNS(svg, "path"), x = chartX(b.tds_pct * b.beverage_g / b.dose_g), y = chartY(b.tds_pct);
      p.setAttribute("class", "measured");
      p.setAttribute("d", "M" + (x - 6) + " " + (y - 6) + "l12 12m0 -12l-12 12");
      return p;
    }));
  }
  let fitted = null;
  $("another").addEventListener("click", () => { addBrew(); rows().at(-1).querySelector("input").focus(); });
  $("fit").addEventListener("click", async () => {
    const brews = readBrews();
    fitted = null;
    $("use-fit").hidden = true;
    if (!brews || brews.length < 2) { $("fitted").textContent = say("fit_missing"); return; }
    try {
      fitted = await calc("fit", { brews });
      $("fitted").textContent = [say("fitted", { n: fitted.brews, yield: q.number(fitted.max_yield_pct, 1), yield_pm: q.number(fitted.max_yield_plus_minus, 1), kept: q.number(fitted.retained_ratio, 2), kept_pm: q.number(fitted.retained_ratio_plus_minus, 2) }), ...fitted.cautions].join(" ");
      $("use-fit").hidden = false;
    } catch (e) { $("fitted").textContent = e.problem ? whyOf(e) + "." : say("no_answer"); }
  });
  $("use-fit").addEventListener("click", () => {
    trial.max_yield_pct = Number(fitted.max_yield_pct.toFixed(2));
    trial.retained_ratio = Number(fitted.retained_ratio.toFixed(3));
    show();
    ask();
  });

  let notes = [];
  try { notes = JSON.parse(localStorage.getItem(notebook)) || []; } catch { /* none are kept */ }
  for (let i = 0; i < Math.max(2, notes.length); i++) addBrew(notes[i]);
  crosses();
  try {
    if (sessionStorage.getItem("hotday.recipe.saved") === code) tell(say("saved"));
    sessionStorage.removeItem("hotday.recipe.saved");
  } catch { /* nothing to tell */ }
  ask();
})();
