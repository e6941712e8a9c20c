// Counts that wait on this device until the service has them, for the Count page and the wall screen alike. The moment of counting is
// part of a count, so that sending it twice changes nothing.
import { Outbox } from "./outbox.js";
import { Refusal, request, siteURL, site } from "./page.js";

const SEND_TIMEOUT_MS = 10000;

/**
 * @typedef {{ counted_at: string, ice_g?: number, plain_ice_g?: number, tank_l?: number, beverages?: { beverage: string, g: number, made_at: string }[],
 *   lots?: { lot: string, grams: number, place: string }[] }} CountDocument
 * @typedef {{ undo: { counted_at: string, kind: string, code: string } }} CountUndo of one thing of a count
 */

/**
 * countsOutbox sends counts and what undoes them, in their order.
 * @param {Omit<ConstructorParameters<typeof Outbox<CountDocument | CountUndo>>[1], "send">} handlers
 */
export function countsOutbox(handlers) {
  return /** @type {Outbox<CountDocument | CountUndo>} */ (new Outbox("hotday.counts." + site, { ...handlers, send: (item) => send(item) }));
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
