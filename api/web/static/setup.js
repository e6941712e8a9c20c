// Settings: the service checks each field as it is filled in. Without this script it checks them when they are saved.
import { all, byID, clicked, data, element, maybe, one, request, site, siteURL } from "./page.js";
import { note } from "./saved.js";

/** @typedef {{ pointer: string, text: string }} FieldFault in the page's words */

const CHECK_DELAY_MS = 250, CHECK_TIMEOUT_MS = 10000;
const form = byID("fields", HTMLFormElement), summary = byID("wrongs");

/** @type {Set<string>} names of fields that somebody has filled in */
const touched = new Set(all(form, "[aria-invalid]", HTMLInputElement).map((field) => field.name));
let unsaved = false, checks = 0, timer = 0;

// A row that was just added is opened, ready to be filled in.
const added = form.dataset.grown ? maybe("f" + form.dataset.grown) : null;
if (added) {
  if (added instanceof HTMLDetailsElement) added.open = true;
  all(added, "input:not([type=hidden]), select").at(0)?.focus();
  unsaved = true;
}

// A town that is chosen from the list fills in its coordinates.
const place = maybe("place", HTMLInputElement);
/** @type {{ name: string, latitude: number, longitude: number }[]} */
let towns = [];
let typing = 0;
place?.addEventListener("input", async () => {
  const town = towns.find(({ name }) => name === place.value);
  if (town) {
    fill("/site/latitude", town.latitude);
    fill("/site/longitude", town.longitude);
    return;
  }
  const turn = ++typing;
  try {
    const answer = await fetch(form.action.replace(/setup\/[^/]*$/, "places?q=") + encodeURIComponent(place.value), { signal: AbortSignal.timeout(CHECK_TIMEOUT_MS) });
    if (!answer.ok || turn !== typing) return;
    towns = (await answer.json()).places;
  } catch { return; } // “Find” works without
  byID("places", HTMLDataListElement).replaceChildren(...towns.map(({ name }) => {
    const option = element("option");
    option.value = name;
    return option;
  }));
});
place?.addEventListener("keydown", (event) => {
  if (event.key !== "Enter") return;
  event.preventDefault(); // which would save
  one(form, "button[name=find]", HTMLButtonElement).click();
});

/** @param {string} name @param {number} value */
function fill(name, value) {
  const field = form.elements.namedItem(name);
  if (!(field instanceof HTMLInputElement)) return;
  field.value = String(value);
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

form.addEventListener("input", () => { unsaved = true; });
// The settings as they are before the form is saved, for the page after that to undo it.
form.addEventListener("input", () => {
  request("GET", siteURL + "/setup").then((setup) => { note.value = { site, setup }; }).catch(() => { note.value = null; });
}, { once: true });
form.addEventListener("change", (event) => {
  const { name } = /** @type {HTMLInputElement} */ (event.target);
  if (name) touched.add(name);
  clearTimeout(timer);
  timer = setTimeout(check, CHECK_DELAY_MS);
});
form.addEventListener("submit", () => { unsaved = false; });
addEventListener("beforeunload", (event) => { if (unsaved) event.preventDefault(); });

async function check() {
  const turn = ++checks;
  let found;
  try {
    const fields = /** @type {[string, string][]} */ ([...new FormData(form)]);
    const answer = await fetch(form.action + "?check=1", { method: "POST", body: new URLSearchParams(fields), signal: AbortSignal.timeout(CHECK_TIMEOUT_MS) });
    if (!answer.ok) return;
    found = await answer.json();
  } catch { return; } // saving checks again
  if (turn === checks) showFaults(found.faults ?? []);
}

const faultLine = (/** @type {string} */ pointer) => document.getElementById("w" + pointer);

/**
 * showFaults writes each fault at its field or, where that has no place for it, at what contains it. A field that nobody has filled in
 * yet is left alone: a new row is empty at first.
 * @param {FieldFault[]} faults
 */
function showFaults(faults) {
  /** @type {Map<string, string[]>} by the pointer of what they are shown at */
  const placed = new Map();
  /** @type {FieldFault[]} */
  const elsewhere = [];
  for (const fault of faults) {
    if (form.elements.namedItem(fault.pointer) && !touched.has(fault.pointer)) continue;
    let pointer = fault.pointer;
    while (pointer && !faultLine(pointer)) pointer = pointer.slice(0, pointer.lastIndexOf("/"));
    if (!pointer) {
      elsewhere.push(fault);
      continue;
    }
    placed.set(pointer, [...(placed.get(pointer) ?? []), fault.text]);
  }
  for (const line of all(form, ".amiss")) {
    const pointer = data(line).for, text = (placed.get(pointer) ?? []).join(" ");
    if ((line.textContent ?? "").trim() !== text) line.textContent = text;
    const field = document.getElementById("f" + pointer);
    if (!field?.matches("input, select")) continue;
    if (text) field.setAttribute("aria-invalid", "true");
    else field.removeAttribute("aria-invalid");
  }
  showSummary(placed, elsewhere);
}

/**
 * showSummary lists the faults above the form, each with a link to its field.
 * @param {Map<string, string[]>} placed
 * @param {FieldFault[]} elsewhere
 */
function showSummary(placed, elsewhere) {
  summary.hidden = !placed.size && !elsewhere.length;
  if (summary.hidden) return;
  const lines = [...placed].map(([pointer, faults]) => {
    const line = element("li"), link = element("a", nameOf(pointer));
    link.href = "#f" + pointer;
    line.append(link, ": " + faults.join(" "));
    return line;
  });
  one(summary, "ul").replaceChildren(...lines, ...elsewhere.map((fault) => element("li", fault.text)));
}

/** @param {string} pointer */
function nameOf(pointer) {
  const field = document.getElementById("f" + pointer);
  const label = field && (/** @type {HTMLInputElement} */ (field).labels?.[0] ?? field.querySelector("legend, summary"));
  return label?.textContent?.trim() ?? pointer;
}

// A link to a field unfolds whatever contains it.
summary.addEventListener("click", (event) => {
  const link = /** @type {HTMLAnchorElement | null} */ (clicked(event, "a"));
  const field = link && document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!field) return;
  event.preventDefault();
  for (let around = field.closest("details"); around; around = around.parentElement?.closest("details") ?? null) around.open = true;
  field.focus();
  field.scrollIntoView({ block: "center" });
});
