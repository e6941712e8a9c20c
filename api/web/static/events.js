// Events: after one was saved or deleted, the bar that says so, with Undo.
import { all, csrfToken, request, site } from "./page.js";
import { note, saved } from "./saved.js";

/** @typedef {{ site: string, rows: string }} Before what was stored before a form was sent: none of it for a new event */

addEventListener("submit", (event) => {
  const button = /** @type {HTMLElement | null} */ (/** @type {SubmitEvent} */ (event).submitter);
  const rows = button?.dataset.rows ?? /** @type {HTMLElement} */ (event.target).dataset.rows;
  note.value = rows === undefined ? null : { site, rows };
});

for (const line of all(document, ".known p.said")) {
  const before = /** @type {Before | null} */ (note.value);
  note.value = null;
  const undo = before?.site === site ? async () => {
    const body = new URLSearchParams({ csrf: csrfToken(), removed: line.dataset.made ?? "{}", added: before.rows });
    await request("POST", location.pathname + "-undo", { body });
    location.replace(location.pathname);
  } : undefined;
  saved(line.textContent ?? "", undo, line);
  line.hidden = true;
}
