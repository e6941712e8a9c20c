// Marks of tasks that wait on this device until the service has them, for the wall screen and the prep sheet alike. A mark's key makes
// sending it twice harmless.
import { now } from "./clock.js";
import { Outbox, newKey } from "./outbox.js";
import { request, site } from "./page.js";

const SEND_TIMEOUT_MS = 10000;

/**
 * @typedef {{ state: string, at: string, key: string, reason?: string, beverage_g?: number, left_g?: number, tds_pct?: number, corrects?: boolean }} Mark of a task
 * @typedef {{ task: string, body: Mark }} PendingMark
 */

/**
 * marksOutbox sends marks in their order.
 * @param {Omit<ConstructorParameters<typeof Outbox<PendingMark>>[1], "send">} handlers
 */
export function marksOutbox(handlers) {
  return /** @type {Outbox<PendingMark>} */ (new Outbox("hotday.marks." + site, { ...handlers, send: (item) => send(item) }));
}

/** @param {PendingMark} item */
function send({ task, body }) {
  return request("POST", "/v1/tasks/" + encodeURIComponent(task) + "/marks", { json: body, signal: AbortSignal.timeout(SEND_TIMEOUT_MS) });
}

/**
 * newMark is a mark of a task made now.
 * @param {string} task
 * @param {string} state
 * @param {Partial<Mark>} [more]
 * @returns {PendingMark}
 */
export function newMark(task, state, more) {
  return { task, body: { state, at: new Date(now()).toISOString(), key: newKey(), ...more } };
}
