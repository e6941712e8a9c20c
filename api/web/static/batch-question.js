// The question what a batch came to, which the wall asks once it is marked as made. Nobody has to answer, and it keeps nobody from the
// next task: it goes away by itself.
import { byID, data, say } from "./page.js";
import { percent } from "./quantity.js";

/**
 * @typedef {object} Batch what stays undefined was as planned
 * @property {string} id of its task
 * @property {string} name
 * @property {number} plannedG
 * @property {number} plannedTDS %
 * @property {number} [grams]
 * @property {number} [tds] %
 */

const WAIT_MS = 60e3;
const USUAL_TDS = 1.3, LEAST_TDS = 0.01, MOST_TDS = 30; // %
const strengthText = (/** @type {number} */ pct) => percent(pct, 2);

export class BatchQuestion {
  /** @type {Batch | null} */
  #batch = null;
  #timer = 0;
  #stepG;
  #weightText;
  #answered;

  /**
   * @param {number} stepG that weights are rounded to
   * @param {(g: number) => string} weightText
   * @param {(id: string, answer: { beverage_g?: number, tds_pct?: number }) => void} answered called when the question goes away, with what was
   *   not as planned
   */
  constructor(stepG, weightText, answered) {
    this.#stepG = stepG;
    this.#weightText = weightText;
    this.#answered = answered;
  }

  get open() { return this.#batch !== null; }

  /** @param {string} id of the task whose mark counts */
  isAbout(id) { return this.#batch?.id === id; }

  /** @param {HTMLElement} task that was made */
  ask(task) {
    const { line: id, name, grams, tds } = data(task);
    if (!Number(grams)) return; // not a batch whose weight matters
    this.#batch = { id, name, plannedG: Math.round(Number(grams) / this.#stepG) * this.#stepG, plannedTDS: Number(tds) };
    this.#wait();
  }

  show() {
    byID("ask-amount").hidden = !this.#batch;
    if (!this.#batch) return;
    const { name, plannedG, grams, tds } = this.#batch;
    const weight = this.#weightText(grams ?? plannedG), strength = tds === undefined ? "" : strengthText(tds);
    byID("ask-what").textContent = say("really", { what: name });
    byID("grams").textContent = weight;
    byID("ask-strength").hidden = tds === undefined;
    byID("measured").hidden = tds !== undefined;
    byID("strength").textContent = strength;
    const answers = [grams === undefined ? "" : weight, strength].filter(Boolean);
    byID("keep").textContent = answers.length ? say("keep", { what: answers.join(", ") }) : say("as_planned");
  }

  /** @param {number} g that the batch weighs more, below 0 less */
  addWeight(g) { this.#change((batch) => { batch.grams = Math.max(this.#stepG, (batch.grams ?? batch.plannedG) + g); }); }

  /** Its strength was measured; until somebody changes it, as planned. */
  askStrength() { this.#change((batch) => { batch.tds = batch.plannedTDS || USUAL_TDS; }); }

  /** @param {number} pct that the batch is stronger, below 0 weaker */
  addStrength(pct) { this.#change((batch) => { batch.tds = Math.min(MOST_TDS, Math.max(LEAST_TDS, (batch.tds ?? batch.plannedTDS) + pct)); }); }

  drop() {
    clearTimeout(this.#timer);
    this.#batch = null;
  }

  answer() {
    if (!this.#batch) return;
    const { id, grams, tds } = this.#batch;
    this.drop();
    this.#answered(id, { ...(grams === undefined ? {} : { beverage_g: grams }), ...(tds === undefined ? {} : { tds_pct: Math.round(tds * 100) / 100 }) });
  }

  /** @param {(batch: Batch) => void} change */
  #change(change) {
    if (!this.#batch) return;
    change(this.#batch);
    this.#wait();
    this.show();
  }

  #wait() {
    clearTimeout(this.#timer);
    this.#timer = setTimeout(() => this.answer(), WAIT_MS);
  }
}
