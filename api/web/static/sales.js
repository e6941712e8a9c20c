// Past sales from a file: the page shows what the file holds, and then takes all of it or nothing.
import { byID, element, maybe, reason, request, say, siteURL } from "./page.js";

const SHOWN_FAULTS = 20;
const XLSX = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/** @param {HTMLFormElement} form */
function connect(form) {
  const summary = byID("found"), take = byID("bring", HTMLButtonElement);
  const show = (/** @type {string[]} */ ...lines) => summary.replaceChildren(...lines.map((text) => element("p", text)));
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name));

  /** @param {boolean} preview */
  function send(preview) {
    const file = field("file").files?.[0];
    const query = new URLSearchParams({ source: field("source").value.trim() });
    if (preview) query.set("preview", "true");
    return request("POST", siteURL + "/sales-files?" + query, { body: file, type: file?.name.toLowerCase().endsWith(".xlsx") ? XLSX : "text/csv" });
  }

  const date = (/** @type {string | undefined} */ instant) => (instant ? instant.slice(0, 10) : "");

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    take.hidden = true;
    show(say("reading"));
    try {
      const found = await send(true);
      const lines = [found.rows ? say("found", { rows: found.rows, items: found.items.length + found.items_left_out, from: date(found.from), to: date(found.to) }) : say("nothing")];
      if (found.notes.length) lines.push(say("adjusted"));
      if (found.errors.length) {
        lines.push(say("wrong", { n: found.errors.length + found.errors_left_out }));
        if (!found.rows) lines.push(say("heading"));
        else for (const fault of found.errors.slice(0, SHOWN_FAULTS)) lines.push(say("row", { row: fault.row, what: say("at." + (fault.column || "row")) }));
      }
      show(...lines);
      take.hidden = !found.rows || found.errors.length > 0;
    } catch (error) { show(reason(error)); }
  });
  form.addEventListener("change", () => { take.hidden = true; });
  take.addEventListener("click", async () => {
    take.disabled = true;
    try {
      show(say("brought", await send(false)));
      take.hidden = true;
      setTimeout(() => location.reload(), 1500);
    } catch (error) { show(reason(error)); }
    take.disabled = false;
  });
}

const form = maybe("sales", HTMLFormElement);
if (form) connect(form);
