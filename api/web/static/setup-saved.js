// After a form of Settings was saved: the bar that says so, whose Undo puts the settings back as they were before.
import { all, pageData, request, siteURL } from "./page.js";
import { note, saved } from "./saved.js";

for (const line of all(document, "p.said[data-etag]")) {
  const left = /** @type {{ site: string, setup: unknown } | null} */ (note.value);
  note.value = null;
  const undo = left?.site === pageData.site ? async () => {
    await request("PUT", siteURL + "/setup", { json: left?.setup, match: '"' + line.dataset.etag + '"' });
    location.replace(location.pathname);
  } : undefined;
  saved(line.textContent ?? "", undo, line);
  line.hidden = true;
}
