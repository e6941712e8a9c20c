// Count: one item of stock at a time in the lower half of a phone. A count is kept on this device until the service has it; the moment
// of counting is part of it, so that sending it twice changes nothing.
import { now as clockNow, setClock } from "./clock.js";
import { Outbox } from "./outbox.js";
import { Stored, all, byID, clicked, data, element, one, pageData, request, say, site, siteURL } from "./page.js";
import { quantity } from "./quantity.js";

/**
 * @typedef {object} Amount that was counted of one item
 * @property {number} x g or L
 * @property {number} [share] of a full vessel, 0 to 1, where it was read from the level
 * @property {string} [place] of a bag
 * @property {string} [clock] from a batch's label, hh:mm
 * @property {string} [made] the instant of that, "" where unknown
 */

const DRAFT_MS = 30 * 60e3; // how long an unsaved count is kept
const SEND_TIMEOUT_MS = 10000;
const DAY_MS = 24 * 3600e3;
const LEVEL_STEPS = 20; // a level is read to a twentieth of its vessel
const units = quantity({ pounds: "pounds" in pageData, gallons: "gallons" in pageData });

const items = all(document, "#things > li");
setClock(Number(pageData.now), Number(pageData.pace));
const now = () => new Date(clockNow());

/** @type {Stored<{ at: number, found: [string, Amount][] }>} */
const draft = new Stored("hotday.count." + site);

/** @param {HTMLElement} item */
const keyOf = (item) => [item.dataset.kind, item.dataset.beverage, item.dataset.made, item.dataset.lot].join("|");
/** @param {HTMLElement} item */
const isVolume = (item) => item.dataset.base === "L";
const amountText = (/** @type {HTMLElement} */ item, /** @type {number} */ x) => (isVolume(item) ? units.litres(x) : units.mass(x));

/** @type {Map<string, Amount>} */
let counted = new Map();
/** @type {string[]} keys in the order of counting, for Undo */
let order = [];
/** @type {HTMLElement | null} the item that is being counted */
let current = null;
/** @type {number | null} of a full vessel */
let share = null;
let place = "", byLevel = false;

const old = draft.value;
if (old && Date.now() - old.at < DRAFT_MS) {
  counted = new Map(old.found.filter(([key]) => items.some((item) => keyOf(item) === key)));
  order = [...counted.keys()];
}
const saveDraft = () => { draft.value = counted.size ? { at: Date.now(), found: [...counted] } : null; };

const field = byID("amount", HTMLInputElement), madeField = byID("made", HTMLInputElement);
const hand = byID("hand"), heading = byID("hand-name"), status = byID("said");
const save = byID("save", HTMLButtonElement);
const vessel = byID("vessel", SVGSVGElement);

const show = (/** @type {string} */ text) => { status.textContent = text; };
const hide = (/** @type {string[]} */ ids, hidden = true) => { for (const id of ids) byID(id).hidden = hidden; };

/** @param {string} text what is wrong with the entry, "" if nothing is */
function complain(text) {
  hide(["wrong"], !text);
  byID("wrong").textContent = text;
  field.toggleAttribute("aria-invalid", text !== "");
}

// showList writes each amount beside its item, with what was expected.
function showList() {
  for (const item of items) {
    const amount = counted.get(keyOf(item)), { says, expected } = data(item);
    one(item, ".found").textContent = !amount ? say("not_yet") : amount.share === undefined ? amountText(item, amount.x) : say("about", { amount: amountText(item, amount.x) });
    item.classList.toggle("is-found", !!amount);
    one(item, "button").toggleAttribute("aria-current", item === current);
    const beside = one(item, ".beside-expected");
    beside.hidden = !amount;
    if (amount) beside.textContent = [says, ...comparison(item, amount.x, Number(expected))].filter(Boolean).join(" ");
  }
  save.hidden = !counted.size;
  save.textContent = say("save_n", { n: counted.size });
  save.classList.toggle("lesser", !!current);
  byID("undo", HTMLButtonElement).disabled = !order.length;
}

/**
 * comparison says how an amount compares with the expected one, and asks to look again where they are far apart.
 * @param {HTMLElement} item
 * @param {number} x
 * @param {number} expected
 */
function comparison(item, x, expected) {
  const difference = x - expected, size = Math.abs(difference);
  if (size <= Math.max(0.03 * expected, isVolume(item) ? 0.5 : 50)) return [say("as_expected")];
  return [say(difference < 0 ? "less" : "more", { by: amountText(item, size) }), size > 0.25 * Math.max(expected, x) ? say("look_again") : ""];
}

/** @param {HTMLElement} item */
const typedAmount = (item) => (isVolume(item) ? units.readVolume : units.readMass)(field.value, data(item).unit);
/** @param {HTMLElement} item */
const shownAmount = (item) => (!byLevel ? typedAmount(item) : share === null ? NaN : share * Number(item.dataset.full));

/**
 * inUnit writes an amount as a number for the item's field.
 * @param {HTMLElement} item
 * @param {number} x
 */
function inUnit(item, x) {
  const v = x / Number(item.dataset.per);
  return String(Number(v.toFixed(v < 10 ? 2 : 1)));
}

/**
 * select begins the count of an item; null ends counting.
 * @param {HTMLElement | null} item
 */
function select(item, focus = false) {
  current = item;
  complain("");
  hide(["found", "pass", "care", "hand-detail"], !item);
  if (!item) {
    hide(["means", "line", "weight", "label-time", "places"]);
    heading.textContent = say(counted.size ? "all_done" : "nothing_in_hand");
    showList();
    return;
  }
  const amount = counted.get(keyOf(item)), { name, unit, kind, made, care, steps } = data(item);
  const hasLevel = "level" in item.dataset;
  heading.textContent = name;
  byID("hand-detail").textContent = item.querySelector(".detail")?.textContent ?? "";
  byID("amount-name").textContent = say(isVolume(item) ? "field_volume" : "field_mass", { what: name, unit });
  field.value = amount ? inUnit(item, amount.x) : "";
  share = amount?.share ?? null;
  byLevel = hasLevel && (!amount || amount.share !== undefined);
  hide(["means"], !hasLevel);
  hide(["label-time"], kind !== "beverage" || made !== "");
  madeField.value = amount?.clock ?? "";
  place = amount?.place || data(item).place;
  hide(["places"], kind !== "lot");
  byID("care").textContent = care;
  byID("steppers").replaceChildren(...steps.split(";").filter(Boolean).map((text) => {
    const [step, words] = text.split("="), button = element("button", words);
    button.type = "button";
    button.dataset.step = step;
    return button;
  }));
  draw();
  showList();
  if (focus) heading.focus({ preventScroll: true });
}

// draw shows the entry of the current item: its level or its number, and what that comes to.
function draw() {
  if (!current) return;
  const item = current;
  const press = (/** @type {Element} */ button, /** @type {boolean} */ pressed) => button.setAttribute("aria-pressed", String(pressed));
  hide(["line"], !byLevel);
  hide(["weight"], byLevel);
  press(byID("by-line"), byLevel);
  press(byID("by-weight"), !byLevel);
  for (const button of all(byID("places"), "button")) press(button, button.dataset.place === place);
  for (const button of all(document, "[data-share]")) press(button, share !== null && Number(button.dataset.share) === share);
  const y = 100 - 100 * (share ?? 0);
  const liquid = one(vessel, ".stood", SVGElement);
  liquid.setAttribute("y", String(y));
  liquid.setAttribute("height", String(100 - y));
  one(vessel, ".surface", SVGElement).setAttribute("d", "M0 " + y + "H100");
  byID("estimate").textContent = share === null ? "" : say(item.dataset.kind === "tank" ? "estimate_tank" : "estimate",
    { share: Math.round(100 * share), amount: amountText(item, share * Number(item.dataset.full)) });
  const x = shownAmount(item);
  byID("found").textContent = Number.isNaN(x) ? say("found") : say("found_amount", { amount: amountText(item, x) });
}

/**
 * madeAt reads the time on a label: today's, or yesterday's where today's is still to come.
 * @param {string} clock
 */
function madeAt(clock) {
  const [h, m] = clock.split(":").map(Number), zone = Number(pageData.zoneMinutes) * 60e3;
  const t = new Date(now().getTime() + zone); // the site's clock, read as UTC
  t.setUTCHours(h, m, 0, 0);
  t.setTime(t.getTime() - zone);
  if (t > now()) t.setTime(t.getTime() - DAY_MS);
  return t.toISOString();
}

// record takes the current entry, unless something is wrong with it, and goes on to the next item.
function record() {
  if (!current) return;
  const item = current, { kind, unit, made } = data(item), x = shownAmount(item), most = Number(item.dataset.most);
  if (Number.isNaN(x)) {
    complain(say("no_amount", { typed: byLevel ? "" : field.value, unit }));
    if (!byLevel) field.focus();
    return;
  }
  if (most > 0 && x > most * 1.0001) {
    complain(say("too_much", { amount: amountText(item, most) }));
    return;
  }
  /** @type {Amount} */
  const amount = { x: most > 0 ? Math.min(x, most) : x };
  if (byLevel && share !== null) amount.share = share;
  if (kind === "lot") amount.place = place;
  if (kind === "beverage") {
    const clock = madeField.value;
    if (!made && x > 0 && !clock) {
      complain(say("no_time"));
      madeField.focus();
      return;
    }
    amount.clock = clock;
    amount.made = made || (clock ? madeAt(clock) : "");
  }
  const key = keyOf(item);
  counted.set(key, amount);
  order = [...order.filter((other) => other !== key), key];
  saveDraft();
  goOn(item);
}

/** @param {HTMLElement} item that was counted or passed */
function goOn(item) {
  const i = items.indexOf(item);
  const next = [...items.slice(i + 1), ...items.slice(0, i)].find((other) => !counted.has(keyOf(other)) && !other.dataset.passed) ?? null;
  select(next);
  if (!next) {
    save.focus();
    return;
  }
  next.scrollIntoView({ block: "nearest" });
  hand.scrollIntoView({ block: "nearest" });
  show("");
}

hand.addEventListener("submit", (event) => {
  event.preventDefault();
  record();
});
byID("pass").addEventListener("click", () => {
  if (!current) return;
  current.dataset.passed = "1";
  goOn(current);
});
byID("undo").addEventListener("click", () => {
  const key = order.pop();
  if (key === undefined) return;
  counted.delete(key);
  saveDraft();
  const item = items.find((other) => keyOf(other) === key) ?? null;
  if (item) delete item.dataset.passed;
  select(item);
});

byID("by-line").addEventListener("click", () => {
  byLevel = true;
  draw();
});
byID("by-weight").addEventListener("click", () => {
  byLevel = false;
  if (!field.value && share !== null && current) field.value = inUnit(current, share * Number(current.dataset.full));
  draw();
});

const levelStep = (/** @type {number} */ x) => Math.min(1, Math.max(0, Math.round(x * LEVEL_STEPS) / LEVEL_STEPS));
byID("line").addEventListener("click", (event) => {
  const button = clicked(event);
  if (button) share = "share" in button.dataset ? Number(button.dataset.share) : levelStep((share ?? 0.5) + Number(button.dataset.more));
  else if (clicked(event, "#vessel")) {
    const box = vessel.getBoundingClientRect();
    share = levelStep(1 - (event.clientY - box.top) / box.height);
  } else return;
  complain("");
  draw();
});
byID("steppers").addEventListener("click", (event) => {
  const button = clicked(event);
  if (!button || !current) return;
  const x = typedAmount(current);
  field.value = inUnit(current, Math.max(0, (Number.isNaN(x) ? 0 : x) + Number(button.dataset.step)));
  complain("");
  draw();
});
byID("places").addEventListener("click", (event) => {
  const button = clicked(event);
  if (!button) return;
  place = data(button).place;
  draw();
});
field.addEventListener("input", () => {
  complain("");
  draw();
});
for (const item of items) {
  one(item, "button").addEventListener("click", () => {
    delete item.dataset.passed;
    select(item, true);
  });
}
heading.tabIndex = -1;
// What scrolls into view stays clear of the controls.
new ResizeObserver(() => document.body.style.setProperty("--inhand", hand.offsetHeight + "px")).observe(hand);

// countDocument is what the service gets; null where another batch of a counted beverage has still to be looked at.
function countDocument() {
  /** @type {Record<string, any>} */
  const doc = { counted_at: now().toISOString() };
  for (const item of items) {
    const { kind, name, beverage, lot } = data(item), amount = counted.get(keyOf(item));
    if (!amount) continue;
    if (kind === "ice") doc.ice_g = amount.x;
    if (kind === "plain") doc.plain_ice_g = amount.x;
    if (kind === "tank") doc.tank_l = amount.x;
    if (kind === "lot") (doc.lots ??= []).push({ lot, grams: amount.x, place: amount.place });
    if (kind !== "beverage") continue;
    const other = items.find((batch) => batch.dataset.beverage === beverage && batch.dataset.made && !counted.has(keyOf(batch)));
    if (other) {
      select(other);
      complain(say("rest", { what: name }));
      return null;
    }
    (doc.beverages ??= []).push({ beverage, g: amount.x, made_at: amount.made || doc.counted_at });
  }
  return doc;
}

/** @type {Outbox<Record<string, any>>} */
const outbox = new Outbox("hotday.counts." + site, {
  send: (doc) => request("POST", siteURL + "/stock-counts", { json: doc, signal: AbortSignal.timeout(SEND_TIMEOUT_MS) }),
  accepted: () => {
    show(say("saved") + " ");
    const again = element("a", say("again"));
    again.href = location.pathname;
    status.append(again);
  },
  refused: (refusal) => show(say("refused", { why: refusal.message })),
  signedOut: () => show(say("signed_out")),
  unreachable: () => show(say("kept")),
  settled: () => {},
});

save.addEventListener("click", () => {
  const doc = countDocument();
  if (!doc) return;
  outbox.add(doc);
  counted.clear();
  order = [];
  saveDraft();
  for (const item of items) delete item.dataset.passed;
  select(null);
  show(say("saving"));
});

addEventListener("online", () => outbox.flush());
document.addEventListener("visibilitychange", () => { if (!document.hidden) outbox.flush(); });
select(items.find((item) => !counted.has(keyOf(item))) ?? null);
if (outbox.items.length) outbox.flush();
