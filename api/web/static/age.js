// How old what a device keeps is.
import { Stored } from "./page.js";

/** @type {Stored<number>} when the service last answered with a page, by this device's clock */
const answered = new Stored("hotday.answered");

export function rememberAnswer() { answered.value = Date.now(); }

/** @returns {number | null} */
export const lastAnswer = () => answered.value;

/**
 * ago says how long ago something was, in the page's language.
 * @param {number} at ms
 */
export function ago(at) {
  const minutes = Math.max(0, Math.round((Date.now() - at) / 60e3));
  const words = new Intl.RelativeTimeFormat(document.documentElement.lang, { numeric: "always" });
  if (minutes < 60) return words.format(-minutes, "minute");
  if (minutes < 48 * 60) return words.format(-Math.round(minutes / 60), "hour");
  return words.format(-Math.round(minutes / (24 * 60)), "day");
}
