// Counts that wait on this device until the service has them, for the Count page and the wall screen alike. The moment of counting is
// part of a count, so that sending it twice changes nothing.
import { Outbox } from "./outbox.js";
import { Refusal, request, siteURL, site } from "./page.js";

const SEND_TIMEOUT_MS = 10000;

/**
 * @typedef {{ counted_at: string, ice_g?: number, plain_ice_g?: number, tank_l?: number, beverages?: { beverage: string, g: number, made_at: string }[],
 *   lots?: { lot: string, grams: number, place: string }[] }} CountDocument
 * @typedef {{ undo: { counted_at: string, kind: string, code: string } }} CountUndo of one thing of a count
 * @typedef {object} LastCount of one thing
 * @property {number} x g or L
 * @property {string} at RFC 3339
 * @property {string} clock
 * @property {number} expected NaN where it is unknown
 * @property {boolean} waiting for the network
 */

/**
 * countsOutbox sends counts and what undoes them, in their order.
 * @param {Omit<ConstructorParameters<typeof Outbox<CountDocument | CountUndo>>[1], "send">} handlers
 */
export function countsOutbox(handlers) {
  return /** @type {Outbox<CountDocument | CountUndo>} */ (new Outbox("hotday.counts." + site, { ...handlers, send: (item) => send(item) }));
}

/**
 * knownCount is the last count that the service had of a thing when it wrote the page; null: none today.
 * @param {HTMLElement} entry with the data of the template last-count
 * @returns {LastCount | null}
 */
export function knownCount(entry) {
  const { found, foundAt, foundClock, foundExpected } = entry.dataset;
  return found ? { x: Number(found), at: foundAt ?? "", clock: foundClock ?? "", expected: Number(foundExpected ?? NaN), waiting: false } : null;
}

/** @param {CountDocument | CountUndo} item */
async function send(item) {
  const signal = AbortSignal.timeout(SEND_TIMEOUT_MS);
  if (!("undo" in item)) return request("POST", siteURL + "/stock-counts", { json: item, signal });
  const { counted_at, kind, code } = item.undo;
  const query = new URLSearchParams({ counted_at, kind, ...(code ? { code } : {}) });
  return request("DELETE", siteURL + "/stock-counts?" + query, { signal }).catch((error) => {
    if (!(error instanceof Refusal && error.status === 404)) throw error; // it was undone before
  });
}
