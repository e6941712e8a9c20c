// Live events of a site, and the progress of its long jobs.
import { byID, element, pageData, say, siteURL } from "./page.js";

/**
 * eventData returns what a live event carries.
 * @param {Event} event
 * @returns {any}
 */
export function eventData(event) {
  try { return JSON.parse(/** @type {MessageEvent} */ (event).data).data ?? {}; } catch { return {}; }
}

/**
 * liveURL is the address of the events after one.
 * @param {string} last its id, "" for the next to come
 */
export const liveURL = (last) => siteURL + "/live" + (last ? "?last_event_id=" + last : "");

/**
 * listen calls handlers with what events carry, from the last event that the page knows of on. A page that the browser puts away
 * lets go of its connection, and takes it up again when it is shown.
 * @param {Record<string, (data: any) => void>} handlers by kind of event
 */
export function listen(handlers) {
  let last = pageData.event ?? "";
  const open = () => {
    const source = new EventSource(liveURL(last));
    for (const kind of ["hello", ...Object.keys(handlers)]) {
      source.addEventListener(kind, (event) => {
        last = /** @type {MessageEvent} */ (event).lastEventId || last;
        handlers[kind]?.(eventData(event));
      });
    }
    addEventListener("pagehide", () => source.close(), { once: true });
  };
  open();
  addEventListener("pageshow", (event) => { if (event.persisted) open(); });
}

/**
 * showProgress writes the line of a job in #work.
 * @param {string} kind of job
 * @param {string} text
 * @param {boolean} stoppable whether the line has a button that stops the job
 * @returns {HTMLElement} the line
 */
export function showProgress(kind, text, stoppable) {
  const work = byID("work");
  let line = /** @type {HTMLElement | null} */ (work.querySelector('[data-kind="' + kind + '"]'));
  if (!line) {
    line = work.appendChild(element("p"));
    line.dataset.kind = kind;
  }
  let words = line.querySelector("span");
  if (!words) line.replaceChildren(words = element("span"));
  words.textContent = text;
  const button = line.querySelector("button");
  if (stoppable && !button) {
    const stop = element("button", say("stop"));
    stop.type = "button";
    stop.className = "quiet";
    line.append(" ", stop);
  }
  if (!stoppable && button) button.remove();
  return line;
}
