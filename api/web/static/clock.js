// The clock of the service, which may differ from this device's and, in a demo, run faster than it or be stopped.

let shown = Date.now(), since = Date.now(), rate = 1;

/** @returns {number} the time by the service's clock, ms */
export const now = () => shown + (Date.now() - since) * rate;

/**
 * setClock sets the clock to the service's time.
 * @param {number} serverNow ms
 * @param {number} pace its seconds in one of this device's
 * @param {number} [cameAt] when that time came, by this device's clock, ms
 */
export function setClock(serverNow, pace, cameAt = Date.now()) {
  shown = serverNow;
  since = cameAt;
  rate = pace;
}

/** @param {number} ms by which this device's clock was set */
export function deviceClockWasSet(ms) { since += ms; }
