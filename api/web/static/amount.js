// The entry of an amount without a keyboard: named amounts, such as the quarters of a vessel, and steps up and down. The number may be
// typed as well. An entry is an element with the data of templates/amount.html; it keeps its amount in data-x.
import { all, data, say } from "./page.js";
import { quantity, typed as typedNumber } from "./quantity.js";

const EIGHTHS = 8;

/** @param {{ pounds: boolean, gallons: boolean }} units of the site */
export function amounts({ pounds, gallons }) {
  const units = quantity({ pounds, gallons });
  const isVolume = (/** @type {HTMLElement} */ entry) => data(entry).base === "L";
  const text = (/** @type {HTMLElement} */ entry, /** @type {number} */ x) => (isVolume(entry) ? units.litres(x) : units.mass(x));

  /**
   * number is an amount as one would type it, in the unit of the entry.
   * @param {HTMLElement} entry
   * @param {number} x
   */
  const number = (entry, x) => {
    const v = x / Number(data(entry).per);
    return typedNumber(Number(v.toFixed(v < 10 ? 2 : 1)));
  };

  /**
   * read reads a typed amount; NaN where it is none.
   * @param {HTMLElement} entry
   * @param {string} typed
   */
  const read = (entry, typed) => (isVolume(entry) ? units.readVolume : units.readMass)(typed, data(entry).unit);

  /**
   * change returns the amount after a touch of a named amount or a step, null for any other control. A step of an eighth of a vessel
   * leads to whole eighths.
   * @param {HTMLElement} entry
   * @param {HTMLElement} button
   * @param {number} x NaN: none yet
   */
  const change = (entry, button, x) => {
    const { amount, nudge } = button.dataset, full = Number(data(entry).full), most = full || Number(data(entry).most) || Infinity;
    if (amount !== undefined) return Number(amount);
    if (nudge === undefined) return null;
    const by = Number(nudge), eighth = full / EIGHTHS, from = Number.isNaN(x) ? full / 2 : x;
    const next = full && Math.abs(Math.abs(by) - eighth) < 1e-6 ? Math.round((from + by) / eighth) * eighth : from + by;
    return Math.min(most, Math.max(0, next));
  };

  /**
   * level is the name of the level of a vessel, "" between two eighths or where it is no vessel.
   * @param {HTMLElement} entry
   * @param {number} x
   */
  const level = (entry, x) => {
    const { full, eighths } = data(entry), k = (x / Number(full)) * EIGHTHS;
    return eighths && Math.abs(k - Math.round(k)) < 1e-6 ? eighths.split("|")[Math.round(k)] ?? "" : "";
  };

  /**
   * press shows which named amount is chosen.
   * @param {ParentNode} within
   * @param {number} x
   */
  const press = (within, x) => {
    for (const button of all(within, "[data-amount]")) button.setAttribute("aria-pressed", String(Math.abs(Number(button.dataset.amount) - x) < 1e-6));
  };

  /**
   * difference says how far an amount is from what was expected: as expected within 3 %, or what nobody sees.
   * @param {HTMLElement} entry
   * @param {number} x
   * @param {number} expected NaN: unknown
   */
  const difference = (entry, x, expected) => {
    const by = x - expected;
    if (Number.isNaN(by)) return "";
    if (Math.abs(by) <= Math.max(0.03 * expected, isVolume(entry) ? 0.5 : 50)) return say("as_expected");
    return say(by < 0 ? "less" : "more", { by: text(entry, Math.abs(by)) });
  };

  return { text, number, read, change, level, press, difference };
}
