// Recipes: each turn of a dial asks the service to calculate, the last answer counts, and nothing is kept until it is saved with the
// site's settings.
import { plotRecipe } from "./brew-chart.js";
import { IceShareChart } from "./ice-share-chart.js";
import { connectBrews } from "./measured-brews.js";
import { Refusal, all, byID, data, element, maybe, one, pageData, request, say, sentence, siteURL } from "./page.js";
import { PERCENT, digits, number, percent, quantity, typed } from "./quantity.js";
import { note, saved as sayItWasSaved } from "./saved.js";

/**
 * @typedef {Record<string, any>} Recipe a beverage as the site's settings hold it
 * @typedef {(name: "ice-split" | "ice-shares" | "extraction" | "ratio" | "cool-time", document: object) => Promise<any>} Calc
 */

const REST_MS = 90; // for so long a dial has to be still
const units = quantity({ pounds: "pounds" in pageData, fahrenheit: "fahrenheit" in pageData });
/** @type {Recipe[]} */
const beverages = JSON.parse(pageData.stored);
const around = JSON.parse(pageData.around);
const { code } = pageData;
const saved = /** @type {Recipe} */ (beverages.find((beverage) => beverage.code === code));
let recipe = structuredClone(saved);
/** @type {Record<string, number>} calculated with, but not part of the recipe */
const conditions = { ice_temp_c: around.ice_temp_c, batch_g: 0 };
const isSteeped = saved.method === "steeped";
const bath = maybe("bath", HTMLInputElement);
const saveButton = byID("save", HTMLButtonElement);

const show = (/** @type {string} */ text) => { byID("said").textContent = text; };

// Dials: a number and a slider that follow each other. A dial shows a value in the site's units, value / factor + shift.
class Dial {
  /** @param {HTMLElement} box */
  constructor(box) {
    const { id, factor, shift } = data(box);
    this.id = id;
    this.factor = Number(factor);
    this.shift = Number(shift);
    this.inRecipe = "saved" in box.dataset;
    this.name = one(box, "label").textContent ?? "";
    this.unit = one(box, ".unit").textContent ?? "";
    this.number = one(box, "[inputmode]", HTMLInputElement);
    this.slider = one(box, "[type=range]", HTMLInputElement);
    if (!this.inRecipe) this.value = this.stored(Number(this.number.value));
    this.describe();
    for (const input of [this.number, this.slider]) input.addEventListener("input", () => this.turn(input));
  }

  get value() { return this.inRecipe ? recipe[this.id] : conditions[this.id]; }
  set value(x) { (this.inRecipe ? recipe : conditions)[this.id] = x; }

  /** @param {number} x in g or °C */
  shown(x) { return Number((x / this.factor + this.shift).toFixed(3)); }

  /** @param {number} x in the site's units */
  stored(x) { return Number(((x - this.shift) * this.factor).toFixed(6)); }

  /** @param {HTMLInputElement} input that was moved or typed into */
  turn(input) {
    const text = input.value, x = input === this.slider ? Number(text) : signed(text);
    input.toggleAttribute("aria-invalid", Number.isNaN(x));
    if (Number.isNaN(x)) {
      show(say("not_a_number", { typed: text }));
      return;
    }
    show("");
    this.value = this.stored(x);
    if (input === this.slider) this.number.value = typed(x);
    else this.slide(x);
    this.describe();
    ask();
  }

  // slide moves the slider, and lets it reach a number beyond its ends.
  slide(/** @type {number} */ x) {
    if (x < Number(this.slider.min)) this.slider.min = String(x);
    if (x > Number(this.slider.max)) this.slider.max = String(x);
    this.slider.value = String(x);
  }

  describe() { this.slider.setAttribute("aria-valuetext", this.number.value + " " + this.unit); }

  refresh() {
    const x = this.shown(this.value);
    this.number.value = typed(x);
    this.slide(x);
    this.describe();
  }
}

/** @param {string} text of a number that may be negative */
function signed(text) {
  const x = digits(text.trim().replace(/^[-−]/, ""));
  return /^[-−]/.test(text.trim()) ? -x : x;
}

const dials = all(document, ".dial").map((box) => new Dial(box));
bath?.addEventListener("change", () => {
  recipe.bath = bath.checked;
  ask();
});
byID("dials").addEventListener("submit", (event) => event.preventDefault());

const hasIceShare = dials.some((dial) => dial.id === "ice_share");
const chart = hasIceShare ? new IceShareChart(units, (share) => turnTo({ ...recipe, ice_share: share })) : null;

// turnTo sets every dial to the recipe as it is now.
function turnTo(/** @type {Recipe} */ next) {
  recipe = next;
  for (const dial of dials) dial.refresh();
  if (bath) bath.checked = recipe.bath;
  ask();
}

// ask waits for the dial to rest. An answer that a later question has overtaken is dropped.
let timer = 0;
/** @type {AbortController | null} */
let asking = null;
function ask() {
  showChanges();
  clearTimeout(timer);
  timer = setTimeout(calculate, REST_MS);
}

async function calculate() {
  asking?.abort();
  const { signal } = asking = new AbortController();
  const r = structuredClone(recipe);
  const coffee = { retained_ratio: r.retained_ratio, max_yield_pct: r.max_yield_pct };
  const beveragePerDose = r.ratio + r.max_yield_pct / 100 - r.retained_ratio;
  const least = r.retained_ratio / (1 - r.ice_share);
  if (!(r.ratio > least * 1.0001) || beveragePerDose <= 0) {
    showImpossible(say("too_little", { ratio: number(r.ratio, 1), least: number(Math.ceil(least * 10 + 0.1) / 10, 1), usable: number(Math.ceil(8 / (1 - r.ice_share) * 10) / 10, 1) }));
    return;
  }
  const dose = Math.max(1, conditions.batch_g / beveragePerDose), outC = isSteeped ? r.steep_temp_c : r.brewer_out_temp_c;
  /** @type {Calc} */
  const calc = (name, document) => request("POST", "/v1/calc/" + name, { json: document, signal });
  try {
    const split = await calc("ice-split", { dose_g: dose, total_water_g: r.ratio * dose, ice_share: r.ice_share, brewer_out_temp_c: outC, ice_temp_c: conditions.ice_temp_c,
      target_temp_c: r.target_temp_c, wet_share: around.wet_share, altitude_m: around.altitude_m, ...coffee });
    const serving = around.serving_g > 0 ? { serving_g: around.serving_g * split.beverage_before_ice_g / split.final_beverage_g } : {};
    const [extraction, ratio, cooling, shares] = await Promise.all([
      calc("extraction", { dose_g: dose, brew_water_g: split.brew_water_g, method: r.method, ...serving, ...coffee }),
      calc("ratio", { target_tds_pct: r.target_tds_pct, ice_share: r.ice_share, ...coffee }).catch(impossible),
      coolingTime(calc, r, split, outC),
      chart && calc("ice-shares", { ratio: r.ratio, brewer_out_temp_c: outC, ice_temp_c: conditions.ice_temp_c, target_temp_c: r.target_temp_c, wet_share: around.wet_share,
        altitude_m: around.altitude_m, ...around.limits, ...coffee }),
    ]);
    if (signal.aborted) return;
    split.final_tds_pct = split.tds_before_ice_pct * split.beverage_before_ice_g / (split.beverage_before_ice_g + split.ice_g); // all the ice melted
    showResult({ recipe: r, outC, dose, split, cooling });
    chart?.show({ shares, share: r.ice_share, saved: saved.ice_share, targetTDSPct: r.target_tds_pct, targetC: r.target_temp_c });
    showTarget(r, split, ratio);
    showCautions([...split.cautions, ...extraction.cautions, ...(cooling?.cautions ?? [])]);
    plotRecipe({ yieldPct: split.yield_pct, tdsPct: split.final_tds_pct });
  } catch (error) {
    if (signal.aborted) return;
    if (!(error instanceof Refusal)) show(say("no_answer"));
    else if (error.status === 422) showImpossible(say("not_possible"));
    else show(error.signedOut ? error.message : say("no_answer"));
  }
}

// impossible returns a refusal that says that something cannot be, and throws any other error.
function impossible(/** @type {unknown} */ error) {
  if (error instanceof Refusal && error.status === 422) return error;
  throw error;
}

/**
 * coolingTime is how long a batch takes in its bath; null where it has none, needs none or never gets there.
 * @param {Calc} calc
 * @param {Recipe} r
 * @param {any} split
 * @param {number} outC
 */
async function coolingTime(calc, r, split, outC) {
  const toC = Math.max(split.precool_needed_c, r.bath_temp_c + 1);
  if (!r.cooling_ua_w_per_k || !r.bath || !(toC < outC - 0.05)) return null;
  const found = await calc("cool-time", { mass_g: split.beverage_before_ice_g, temp_c: outC, ambient_temp_c: r.bath_temp_c, ua_w_per_k: r.cooling_ua_w_per_k, to_temp_c: toC }).catch(impossible);
  return found instanceof Refusal ? null : found;
}

/** @param {string} why */
function showImpossible(why) {
  byID("impossible").hidden = false;
  byID("impossible").textContent = why;
  for (const id of ["o-tds", "o-yield", "o-temp", "o-cool"]) byID(id).textContent = "–";
  for (const id of ["o-do", "o-cooling", "o-target"]) byID(id).textContent = "";
  byID("set-ratio").hidden = true;
}

/** @param {{ recipe: Recipe, outC: number, dose: number, split: any, cooling: any }} result */
function showResult({ recipe: r, outC, dose, split, cooling }) {
  const coolsFirst = split.precool_needed_c < outC - 0.05;
  const { fault, how } = coolsFirst ? firstCooling(r, outC, split, cooling) : { fault: "", how: "" };
  byID("impossible").hidden = !fault;
  byID("impossible").textContent = fault;
  byID("o-tds").textContent = percent(split.final_tds_pct, 2);
  byID("o-yield").textContent = percent(split.yield_pct, 1);
  byID("o-temp").textContent = units.temp(fault ? split.final_temp_if_iced_at_once_c : split.final_temp_c);
  byID("o-cool").textContent = coolsFirst ? units.temp(Math.floor(split.precool_needed_c)) : say("nothing_first");
  const hasIce = split.ice_g >= 0.5;
  byID("o-do").textContent = say(isSteeped ? (hasIce ? "steep_ice" : "steep") : hasIce ? "pour" : "pour_plain",
    { water: units.grams(split.brew_water_g), dose: units.grams(dose), ice: units.grams(split.ice_g), batch: units.mass(split.final_beverage_g) });
  byID("o-cooling").textContent = how;
}

/**
 * firstCooling says how a batch cools before its ice, or why it does not.
 * @param {Recipe} r
 * @param {number} outC
 * @param {any} split
 * @param {any} cooling
 */
function firstCooling(r, outC, split, cooling) {
  const neededC = split.precool_needed_c;
  const values = { out: units.temp(outC), target: units.temp(r.target_temp_c), once: units.temp(split.final_temp_if_iced_at_once_c), cool: units.temp(Math.floor(neededC)),
    ice: units.grams(split.ice_g), brew: units.mass(split.beverage_before_ice_g) };
  const how = (/** @type {string} */ text) => ({ fault: "", how: text });
  const fault = (/** @type {string} */ text) => ({ fault: text, how: "" });
  if (isSteeped) return how(r.target_temp_c >= around.store_temp_c || neededC >= around.store_temp_c ? say("by_store") : "");
  if (r.rest_temp_c !== null && r.rest_temp_c <= neededC + 1e-6) return how(say("by_rest", { ...values, rest: units.temp(r.rest_temp_c) }));
  if (r.bath && neededC <= r.bath_temp_c) return fault(say("bath_too_warm", { ...values, bath: units.temp(r.bath_temp_c) }));
  if (r.bath) return how(cooling ? say("by_bath_min", { ...values, minutes: Math.ceil(cooling.minutes) }) : say("by_bath", values));
  if (r.method !== "flash") return how(say("by_store"));
  if (split.ice_g < 0.5) return fault(say("impossible_no_ice", values));
  if (split.share_needed_without_precool === null) return fault(say("impossible", values));
  return fault(say("impossible", values) + " " + say("or_share", { share: Math.ceil(100 * split.share_needed_without_precool) }));
}

/** @param {string[]} cautions */
function showCautions(cautions) {
  byID("cautions").replaceChildren(...[...new Set(cautions)].map((caution) => element("li", sentence(caution))));
}

// The ratio that gives the target strength, offered where the recipe has another.
/** @type {number | null} */
let offeredRatio = null;
const offer = byID("set-ratio", HTMLButtonElement);

/**
 * @param {Recipe} r
 * @param {any} split
 * @param {any} ratio a Refusal where no ratio gives that strength
 */
function showTarget(r, split, ratio) {
  const line = byID("o-target");
  offeredRatio = null;
  if (Math.abs(split.final_tds_pct - r.target_tds_pct) < 0.015) line.textContent = say("strength_is");
  else if (ratio instanceof Refusal) line.textContent = say("no_strength", { target: number(r.target_tds_pct, 2) });
  else {
    offeredRatio = Number(ratio.ratio.toFixed(2));
    line.textContent = say("strength_by", { target: number(r.target_tds_pct, 2), ratio: number(offeredRatio, 1) });
    offer.textContent = say("set_ratio", { ratio: number(offeredRatio, 1) });
  }
  offer.hidden = offeredRatio === null;
}
offer.addEventListener("click", () => {
  if (offeredRatio === null) return;
  turnTo({ ...recipe, ratio: offeredRatio });
  byID("n-ratio").focus();
});

// showChanges lists what saving would change.
function showChanges() {
  const line = (/** @type {string} */ what, /** @type {unknown} */ from, /** @type {unknown} */ to) => element("li", say("changed", { what, from, to }));
  const lines = dials.filter((dial) => dial.inRecipe && Math.abs(dial.value - saved[dial.id]) >= 1e-9)
    .map((dial) => {
      const shown = (/** @type {number} */ x) => typed(dial.shown(x)) + (dial.unit === "%" ? PERCENT : " " + dial.unit);
      return line(dial.name, shown(saved[dial.id]), shown(dial.value));
    });
  if (recipe.bath !== saved.bath) lines.push(line(say("bath"), say(saved.bath ? "yes" : "no"), say(recipe.bath ? "yes" : "no")));
  for (const field of Object.keys(recipe)) {
    if (field === "bath" || dials.some((dial) => dial.id === field) || JSON.stringify(recipe[field]) === JSON.stringify(saved[field])) continue;
    lines.push(line(field, saved[field], recipe[field]));
  }
  byID("differs").replaceChildren(...lines);
  byID("no-difference").hidden = lines.length > 0;
  saveButton.disabled = !lines.length;
}

saveButton.addEventListener("click", async () => {
  saveButton.disabled = true;
  show(say("saving"));
  try {
    await request("PUT", siteURL + "/setup/beverages", { json: beverages.map((beverage) => (beverage.code === code ? recipe : beverage)), match: '"' + pageData.etag + '"' });
    note.value = { recipe: code, beverages };
    location.reload();
  } catch (error) {
    show(whyNotSaved(error));
    saveButton.disabled = false;
  }
});

/** @param {unknown} error */
function whyNotSaved(error) {
  if (!(error instanceof Refusal)) return say("no_answer");
  if (error.status === 412 || error.status === 409) return say("conflict");
  return say("refused", { why: error.message });
}

byID("reset").addEventListener("click", () => turnTo(structuredClone(saved)));
for (const button of all(document, "[data-recipe]")) {
  button.addEventListener("click", () => {
    turnTo(JSON.parse(data(button).recipe));
    byID("dials-name").scrollIntoView({ block: "start" });
    byID("n-ratio").focus({ preventScroll: true });
  });
}

connectBrews(saved.coffee, (fit) => turnTo({ ...recipe, max_yield_pct: Number(fit.max_yield_pct.toFixed(2)), retained_ratio: Number(fit.retained_ratio.toFixed(3)) }));

// This page was loaded again after its recipe was saved.
const left = /** @type {{ recipe?: string, beverages: Recipe[] } | null} */ (note.value);
note.value = null;
if (left?.recipe === code) {
  const etag = pageData.etag;
  sayItWasSaved(say("saved"), async () => {
    await request("PUT", siteURL + "/setup/beverages", { json: left.beverages, match: '"' + etag + '"' });
    location.reload();
  }, saveButton);
}
ask();
