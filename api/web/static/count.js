// Count: one row of stock after the other, without a keyboard. Each row is saved on its own, and keeps what was found, when, and how far
// it is from what was expected.
import { amounts } from "./amount.js";
import { now as clockNow, setClock } from "./clock.js";
import { countsOutbox, knownCount } from "./counts.js";
import { all, byID, clicked, data, one, pageData, reason, say } from "./page.js";

/**
 * @typedef {import("./counts.js").CountDocument} CountDocument
 * @typedef {import("./counts.js").LastCount} Found of one row
 */

const DAY_MS = 24 * 3600e3, MINUTE_MS = 60e3;
const FRESH_MS = 30 * MINUTE_MS; // a row is not asked for again so soon after it was counted
const STALE_MS = 5 * MINUTE_MS; // what is expected is read again after so long, once nobody is counting
const TO_TEN_MINUTES = 10;

const entries = amounts({ pounds: "pounds" in pageData, gallons: "gallons" in pageData });
const rows = all(document, "#things > li");
setClock(Number(pageData.now), Number(pageData.pace));
const openedAt = Date.now();
const now = () => new Date(clockNow());

/** @type {Map<HTMLElement, Found>} */
const found = new Map();
/** @type {Set<HTMLElement>} rows that somebody has skipped */
const passed = new Set();
/** @type {HTMLElement | null} the row that is being counted */
let current = null;
let x = NaN, place = "";

const hand = byID("hand", HTMLFormElement), controls = byID("controls"), status = byID("said");
const field = byID("amount", HTMLInputElement), madeField = byID("made", HTMLInputElement), save = byID("save", HTMLButtonElement);

/** @param {string} text what is wrong with the entry, "" if nothing is */
function complain(text) {
  byID("wrong").hidden = !text;
  byID("wrong").textContent = text;
  field.toggleAttribute("aria-invalid", text !== "");
}

/** @param {Date} t @returns {string} the time of the site's clock, "14:05" or "2:05 pm" */
function clockText(t) {
  const minutes = (((t.getTime() / MINUTE_MS + Number(pageData.zoneMinutes)) % 1440) + 1440) % 1440, hour = Math.floor(minutes / 60);
  const rest = ":" + String(Math.floor(minutes % 60)).padStart(2, "0");
  return "halfDays" in pageData ? (hour % 12 || 12) + rest + "\u202f" + say(hour < 12 ? "am" : "pm") : String(hour).padStart(2, "0") + rest;
}

/**
 * foundText says what was found, when, and how far that is from what was expected.
 * @param {HTMLElement} row
 * @param {Found} f
 */
function foundText(row, f) {
  const off = entries.difference(row, f.x, f.expected);
  return [say("found_at", { amount: entries.text(row, f.x), when: f.clock }) + (off ? ", " + off : ""), f.waiting ? say("count_waiting") : ""].filter(Boolean).join(". ");
}

/** @param {HTMLElement} row that is still to be counted */
const isToCount = (row) => now().getTime() - Date.parse(found.get(row)?.at ?? "1970-01-01") > FRESH_MS;

function showRows() {
  for (const row of rows) {
    const f = found.get(row), pick = one(row, ".pick");
    one(row, ".kept").hidden = !f;
    if (f) one(row, ".found").textContent = foundText(row, f);
    one(row, ".undo").setAttribute("aria-label", say("undo_what", { what: data(row).name }));
    row.classList.toggle("is-found", !!f);
    pick.toggleAttribute("aria-current", row === current);
    pick.setAttribute("aria-expanded", String(row === current));
  }
}

/**
 * select begins the count of a row; null ends counting.
 * @param {HTMLElement | null} row
 */
function select(row) {
  current = row;
  complain("");
  hand.hidden = !row;
  x = NaN;
  if (row) {
    const { name, unit, kind, made, care } = data(row);
    hand.setAttribute("aria-label", name);
    row.append(hand);
    controls.replaceChildren(one(row, "template", HTMLTemplateElement).content.cloneNode(true));
    byID("amount-name").textContent = say("type_it", { unit });
    byID("care").textContent = care;
    field.value = madeField.value = "";
    byID("label-time").hidden = kind !== "beverage" || made !== "";
    byID("places").hidden = kind !== "lot";
    place = data(row).place;
  }
  draw();
  showRows();
}

// draw shows the amount of the current row and what it comes to.
function draw() {
  if (!current) return;
  entries.press(controls, x);
  for (const button of all(byID("places"), "button")) button.setAttribute("aria-pressed", String(button.dataset.place === place));
  byID("estimate").textContent = Number.isNaN(x) ? "" : entries.level(current, x);
  save.disabled = Number.isNaN(x) && !field.value;
  save.textContent = Number.isNaN(x) ? say("save") : say("save_amount", { amount: entries.text(current, x) });
}

/**
 * setAmount takes an amount that was not typed.
 * @param {number} amount
 */
function setAmount(amount) {
  if (!current) return;
  x = amount;
  field.value = entries.number(current, x);
  complain("");
  draw();
}

/**
 * madeAt reads the time on a label: today's, or yesterday's where today's is still to come.
 * @param {string} clock
 */
function madeAt(clock) {
  const [h, m] = clock.split(":").map(Number), zone = Number(pageData.zoneMinutes) * MINUTE_MS;
  const t = new Date(now().getTime() + zone); // the site's clock, read as UTC
  t.setUTCHours(h, m, 0, 0);
  t.setTime(t.getTime() - zone);
  if (t > now()) t.setTime(t.getTime() - DAY_MS);
  return t.toISOString();
}

/** @param {number} minutes by which the time on the label is later */
function moveLabelTime(minutes) {
  const site = new Date(now().getTime() + Number(pageData.zoneMinutes) * MINUTE_MS), shown = /^(\d+):(\d+)/.exec(madeField.value);
  const from = shown ? Number(shown[1]) * 60 + Number(shown[2]) : site.getUTCHours() * 60 + Math.floor(site.getUTCMinutes() / TO_TEN_MINUTES) * TO_TEN_MINUTES;
  const to = (from + minutes + 1440) % 1440;
  madeField.value = String(Math.floor(to / 60)).padStart(2, "0") + ":" + String(to % 60).padStart(2, "0");
  complain("");
}

// record saves the amount of the current row, unless something is wrong with it, and goes on to the next row.
function record() {
  if (!current) return;
  const row = current, { kind, unit, made } = data(row), most = Number(data(row).most);
  if (Number.isNaN(x)) {
    complain(say("no_amount", { typed: field.value, unit }));
    return;
  }
  if (most > 0 && x > most * 1.0001) {
    complain(say("too_much", { amount: entries.text(row, most) }));
    return;
  }
  if (kind === "beverage" && !made && x > 0 && !madeField.value) {
    complain(say("no_time"));
    return;
  }
  const at = now();
  found.set(row, { x: most > 0 ? Math.min(x, most) : x, at: at.toISOString(), clock: clockText(at), expected: Number(data(row).expected), waiting: true });
  outbox.add(documentOf(row, at));
  status.textContent = "";
  const byKeyboard = document.activeElement === field;
  goOn(row);
  if (byKeyboard && current) field.focus();
}

/**
 * documentOf is what the service gets for a row. A beverage is counted with all its batches: those not counted yet as they are on record.
 * @param {HTMLElement} row
 * @param {Date} at
 * @returns {CountDocument}
 */
function documentOf(row, at) {
  const { kind, beverage, lot } = data(row), counted_at = at.toISOString(), amount = /** @type {Found} */ (found.get(row)).x;
  switch (kind) {
    case "ice": return { counted_at, ice_g: amount };
    case "plain": return { counted_at, plain_ice_g: amount };
    case "tank": return { counted_at, tank_l: amount };
    case "lot": return { counted_at, lots: [{ lot, grams: amount, place }] };
  }
  if (!data(row).made) row.dataset.labelled = madeField.value ? madeAt(madeField.value) : counted_at;
  const batches = rows.filter((other) => data(other).beverage === beverage && (data(other).made || found.has(other)));
  return { counted_at, beverages: batches.map((other) => ({ beverage, g: found.get(other)?.x ?? Number(data(other).expected), made_at: data(other).made || data(other).labelled })) };
}

/** @param {HTMLElement} row that was counted or skipped */
function goOn(row) {
  const i = rows.indexOf(row);
  const next = [...rows.slice(i + 1), ...rows.slice(0, i)].find((other) => isToCount(other) && !passed.has(other)) ?? null;
  select(next);
  if (next) next.scrollIntoView({ block: "nearest" });
  else status.textContent = say("all_done");
}

/** @param {HTMLElement} row whose count is undone */
function undo(row) {
  const f = found.get(row);
  if (!f) return;
  const { kind, beverage, lot } = data(row);
  for (const other of kind === "beverage" ? rows.filter((r) => data(r).beverage === beverage && found.get(r)?.at === f.at) : [row]) found.delete(other);
  passed.delete(row);
  outbox.add({ undo: { counted_at: f.at, kind: kind === "plain" ? "plain_ice" : kind, code: beverage || lot } });
  select(row);
}

const outbox = countsOutbox({
  accepted: (item) => {
    for (const f of found.values()) if (!("undo" in item) && f.at === item.counted_at) f.waiting = false;
    const isUndo = "undo" in item;
    if (!outbox.items.length) status.textContent = say(isUndo ? "undone" : "saved");
  },
  refused: (refusal, item) => {
    if (!("undo" in item)) for (const [row, f] of found) if (f.at === item.counted_at) found.delete(row);
    status.textContent = say("count_refused", { why: reason(refusal) });
  },
  signedOut: () => { status.textContent = say("signed_out"); },
  unreachable: () => { status.textContent = say("kept"); },
  settled: showRows,
});

// showKnown shows the counts of today that the service has, and those that still wait here.
function showKnown() {
  for (const row of rows) {
    const known = knownCount(row);
    if (known) found.set(row, known);
  }
  for (const item of outbox.items) {
    if ("undo" in item) {
      for (const [row, f] of found) if (f.at === item.undo.counted_at) found.delete(row);
      continue;
    }
    for (const row of rows) {
      const amount = amountIn(row, item);
      if (amount !== undefined) found.set(row, { x: amount, at: item.counted_at, clock: clockText(new Date(item.counted_at)), expected: Number(data(row).expected), waiting: true });
    }
  }
}

/**
 * @param {HTMLElement} row
 * @param {CountDocument} doc
 */
function amountIn(row, doc) {
  const { kind, beverage, made, lot } = data(row);
  switch (kind) {
    case "ice": return doc.ice_g;
    case "plain": return doc.plain_ice_g;
    case "tank": return doc.tank_l;
    case "lot": return doc.lots?.find((l) => l.lot === lot)?.grams;
    default: return doc.beverages?.find((b) => b.beverage === beverage && b.made_at === made)?.g;
  }
}

hand.addEventListener("submit", (event) => {
  event.preventDefault();
  record();
});
hand.addEventListener("click", (event) => {
  const button = clicked(event);
  if (!button || !current) return;
  const amount = entries.change(current, button, x);
  if (amount !== null) setAmount(amount);
  else if (button.dataset.minutes) moveLabelTime(Number(button.dataset.minutes));
  else if (button.dataset.place) {
    place = data(button).place;
    draw();
  } else if (button.id === "pass") {
    passed.add(current);
    goOn(current);
  }
});
field.addEventListener("input", () => {
  if (!current) return;
  x = entries.read(current, field.value);
  complain("");
  draw();
});
for (const row of rows) {
  one(row, ".pick").addEventListener("click", () => {
    passed.delete(row);
    select(row === current ? null : row);
  });
  one(row, ".undo").addEventListener("click", () => undo(row));
}

// What is expected changes with the hours: a page that nobody is using is read again.
function renew() {
  const inUse = !Number.isNaN(x) || field.value || outbox.items.length || document.activeElement?.closest("#hand");
  if (!inUse && navigator.onLine && Date.now() - openedAt > STALE_MS) location.reload();
}

addEventListener("online", () => outbox.flush());
document.addEventListener("visibilitychange", () => {
  if (document.hidden) return;
  outbox.flush();
  renew();
});
setInterval(renew, MINUTE_MS);
showKnown();
select(rows.find(isToCount) ?? null);
if (outbox.items.length) outbox.flush();
