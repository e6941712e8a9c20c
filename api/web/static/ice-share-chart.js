// What the ice share does to a recipe: strength, yield, temperature and batch over the part of the water that is ice, one above the
// other, with a line through all of them at the share that is being tried.
import { byID, say } from "./page.js";
import { number, percent } from "./quantity.js";

/**
 * @typedef {{ ice_share: number, yield_pct: number, final_tds_pct: number, final_temp_if_iced_at_once_c: number, largest_batch_g: number | null }} Row
 * @typedef {{ rows: Row[], share_needed_without_precool: number | null }} Shares
 * @typedef {{ shares: Shares, share: number, saved: number, targetTDSPct: number, targetC: number }} Recipe over its ice share
 * @typedef {{ name: string, of: (row: Row) => number, write: (x: number) => string, target?: number, heat?: boolean }} Panel
 */

const MOST = 0.6; // of the axis
const PANEL = 78, TOP = 22, GAP = 16, AXIS = 40, LEFT = 4, RIGHT = 14;
const SVG = "http://www.w3.org/2000/svg";

/**
 * drawn makes an SVG element.
 * @param {string} tag
 * @param {Record<string, string | number>} attributes
 * @param {string} [text]
 */
function drawn(tag, attributes, text = "") {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, String(value));
  made.textContent = text;
  return made;
}

/**
 * at returns a value of the rows at a share between them.
 * @param {Row[]} rows
 * @param {(row: Row) => number} of
 * @param {number} share
 */
function at(rows, of, share) {
  const next = rows.findIndex((row) => row.ice_share >= share);
  if (next <= 0) return of(rows[next < 0 ? rows.length - 1 : 0]);
  const [a, b] = [rows[next - 1], rows[next]], part = (share - a.ice_share) / (b.ice_share - a.ice_share);
  return of(a) + part * (of(b) - of(a));
}

export class IceShareChart {
  /** @type {Recipe | null} */
  #shown = null;
  #units;
  #picture = byID("ice-shares", SVGSVGElement);

  /**
   * @param {{ mass: (g: number) => string, temp: (c: number) => string }} units
   * @param {(share: number) => void} pick called with a share that somebody points at
   */
  constructor(units, pick) {
    this.#units = units;
    this.#picture.addEventListener("pointerdown", (event) => {
      const box = this.#picture.getBoundingClientRect();
      const share = (event.clientX - box.left - LEFT) / (box.width - LEFT - RIGHT) * MOST;
      pick(Math.round(100 * Math.min(MOST, Math.max(0, share))) / 100);
    });
    new ResizeObserver(() => this.#draw()).observe(/** @type {Element} */ (this.#picture.parentElement));
  }

  /** @param {Recipe} recipe */
  show(recipe) {
    this.#shown = recipe;
    this.#draw();
  }

  #panels() {
    const { shares, targetTDSPct, targetC } = /** @type {Recipe} */ (this.#shown);
    /** @type {Panel[]} */
    const panels = [
      { name: say("share_strength"), of: (row) => row.final_tds_pct, write: (x) => percent(x, 2), target: targetTDSPct },
      { name: say("share_yield"), of: (row) => row.yield_pct, write: (x) => percent(x, 1) },
      { name: say("share_temp"), of: (row) => row.final_temp_if_iced_at_once_c, write: this.#units.temp, target: targetC, heat: true },
    ];
    if (shares.rows.every((row) => row.largest_batch_g !== null)) {
      panels.push({ name: say("share_batch"), of: (row) => Number(row.largest_batch_g), write: this.#units.mass });
    }
    return panels;
  }

  #draw() {
    const recipe = this.#shown, width = this.#picture.parentElement?.clientWidth ?? 0;
    if (!recipe || width < 120 || !recipe.shares.rows.length) return;
    const panels = this.#panels(), height = panels.length * (TOP + PANEL + GAP) + AXIS, base = height - AXIS;
    const x = (/** @type {number} */ share) => LEFT + share / MOST * (width - LEFT - RIGHT);
    const parts = [];
    const last = recipe.shares.rows[recipe.shares.rows.length - 1].ice_share, share = Math.min(recipe.share, last);
    for (let pct = 0; pct <= 100 * MOST; pct += 10) {
      parts.push(drawn("line", { class: "scale", x1: x(pct / 100), y1: TOP, x2: x(pct / 100), y2: base }));
      parts.push(drawn("text", { class: "scale-word", x: x(pct / 100), y: base + 18, "text-anchor": pct ? "middle" : "start" }, percent(pct)));
    }
    parts.push(drawn("text", { class: "scale-word", x: width - RIGHT, y: base + 36, "text-anchor": "end" }, say("share_axis")));
    parts.push(drawn("line", { class: "share-tried", x1: x(share), y1: 0, x2: x(share), y2: base }));
    panels.forEach((panel, i) => parts.push(...this.#panel(panel, recipe, { x, share, last, top: i * (TOP + PANEL + GAP) + TOP, width })));
    this.#picture.setAttribute("viewBox", "0 0 " + width + " " + height);
    this.#picture.setAttribute("height", String(height));
    this.#picture.setAttribute("aria-label", say("share_title", { share: number(100 * recipe.share),
      values: panels.map((panel) => panel.name + " " + panel.write(at(recipe.shares.rows, panel.of, share))).join(", ") }));
    this.#picture.replaceChildren(...parts);
  }

  /**
   * @param {Panel} panel
   * @param {Recipe} recipe
   * @param {{ x: (share: number) => number, share: number, last: number, top: number, width: number }} place
   */
  #panel({ name, of, write, target, heat }, { shares, saved }, { x, share, last, top, width }) {
    const values = shares.rows.map(of);
    if (target !== undefined) values.push(target);
    const low = Math.min(...values), high = Math.max(...values), room = Math.max(high - low, 1e-6) * 0.1;
    const y = (/** @type {number} */ v) => top + PANEL - PANEL * (v - low + room) / (high - low + 2 * room);
    const parts = [];
    const enough = shares.share_needed_without_precool;
    if (heat && (enough === null || enough > 0)) {
      const to = Math.min(last, enough ?? last);
      parts.push(drawn("rect", { class: "cool-first", x: x(0), y: top, width: Math.max(0, x(to) - x(0)), height: PANEL }));
      if (x(to) - x(0) > 90) parts.push(drawn("text", { class: "cool-word", x: x(0) + 6, y: target === undefined ? top + PANEL - 8 : Math.min(top + PANEL - 8, y(target) - 6) }, say("share_cool")));
    }
    if (target !== undefined) {
      parts.push(drawn("line", { class: "target", x1: x(0), y1: y(target), x2: width - RIGHT, y2: y(target) }));
      parts.push(drawn("text", { class: "target-word halo", x: width - RIGHT, y: y(target) > top + 18 ? y(target) - 5 : y(target) + 14, "text-anchor": "end" }, say("share_target", { value: write(target) })));
    }
    parts.push(drawn("path", { class: heat ? "share-heat" : "share-line", d: shares.rows.map((row, i) => (i ? "L" : "M") + x(row.ice_share).toFixed(1) + " " + y(of(row)).toFixed(1)).join("") }));
    if (saved <= last) parts.push(drawn("circle", { class: "as-set", cx: x(saved), cy: y(at(shares.rows, of, saved)), r: 6 }));
    const value = at(shares.rows, of, share);
    parts.push(drawn("circle", { class: "as-tried", cx: x(share), cy: y(value), r: 7 }));
    parts.push(drawn("text", { class: "share-name", x: LEFT, y: top - 7 }, name));
    parts.push(drawn("text", { class: "share-value halo", x: width - RIGHT, y: top - 7, "text-anchor": "end" }, write(value)));
    return parts;
  }
}
