// Measured brews of a coffee, kept by the service, from which it calculates how much of the coffee dissolves and how much the grounds
// retain.
import { plotMeasured } from "./brew-chart.js";
import { Stored, all, byID, clicked, element, pageData, reason, request, say, site, siteURL } from "./page.js";
import { digits, number, percent, quantity } from "./quantity.js";

/**
 * @typedef {{ max_yield_pct: number, retained_ratio: number }} Fit
 * @typedef {{ coffee: string, at: string, dose_g: number, brew_water_g: number, beverage_g: number, tds_pct: number, by?: string }} Brew
 */

const unit = pageData.unit;
const units = quantity({ pounds: "pounds" in pageData });
const table = byID("brews", HTMLTableElement).tBodies[0];
const headings = all(byID("brews"), "thead th");
const form = byID("add-brew", HTMLFormElement);
const day = new Intl.DateTimeFormat(document.documentElement.lang, { timeZone: pageData.zone, day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" });

/**
 * connectBrews shows the brews of a coffee.
 * @param {string} coffee
 * @param {(fit: Fit) => void} use what was calculated
 */
export function connectBrews(coffee, use) {
  /** @type {Brew[]} */
  let brews = JSON.parse(pageData.brews);
  const result = byID("fitted"), useButton = byID("use-fit", HTMLButtonElement), restore = byID("restore-brew", HTMLButtonElement);
  const address = siteURL + "/measured-brews", fields = all(form, "input", HTMLInputElement);
  /** @type {Brew | null} the one removed last */
  let removed = null;

  function show() {
    table.replaceChildren(...brews.map((brew, i) => {
      const row = element("tr"), name = element("th", day.format(new Date(brew.at)) + (brew.by ? ", " + brew.by : ""));
      name.scope = "row";
      row.append(name);
      [units.grams(brew.dose_g), units.grams(brew.brew_water_g), units.grams(brew.beverage_g), percent(brew.tds_pct, 2)].forEach((text, column) => {
        const cell = element("td", text);
        cell.dataset.label = headings[column + 1].textContent ?? "";
        row.append(cell);
      });
      const remove = element("button", say("remove")), cell = row.insertCell();
      remove.type = "button";
      remove.className = "try";
      remove.dataset.brew = String(i);
      remove.setAttribute("aria-label", say("remove_which", { when: name.textContent }));
      cell.append(remove);
      return row;
    }));
    byID("no-brews").hidden = brews.length > 0;
    plotMeasured(brews.map((b) => ({ yieldPct: b.tds_pct * b.beverage_g / b.dose_g, tdsPct: b.tds_pct })));
  }

  // change runs a change of the brews, and shows what the service then has.
  async function change(/** @type {() => Promise<any>} */ run) {
    try {
      await run();
      brews = (await request("GET", address + "?coffee=" + encodeURIComponent(coffee))).rows;
      result.textContent = "";
      useButton.hidden = true;
      show();
      return true;
    } catch (error) {
      result.textContent = reason(error);
      return false;
    }
  }
  const keep = (/** @type {Brew[]} */ rows) => request("PUT", address, { json: { rows: rows.map(({ by, ...brew }) => brew) } });

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const values = [...fields.slice(0, 3).map((field) => units.readMass(field.value, unit)), digits(fields[3].value.replace("%", ""))];
    fields.forEach((field, i) => field.toggleAttribute("aria-invalid", !(values[i] > 0)));
    const wrong = fields.find((_, i) => !(values[i] > 0));
    if (wrong) {
      result.textContent = say("brew_missing");
      wrong.focus();
      return;
    }
    const [dose_g, brew_water_g, beverage_g, tds_pct] = values;
    if (await change(() => keep([{ coffee, at: new Date().toISOString(), dose_g, brew_water_g, beverage_g, tds_pct }]))) {
      form.reset();
      restore.hidden = true;
      fields[0].focus();
    }
  });
  table.addEventListener("click", async (event) => {
    const button = clicked(event);
    if (!button) return;
    const brew = brews[Number(button.dataset.brew)];
    if (await change(() => request("DELETE", address + "?coffee=" + encodeURIComponent(coffee) + "&at=" + encodeURIComponent(brew.at)))) {
      removed = brew;
      restore.hidden = false;
      restore.focus();
    }
  });
  restore.addEventListener("click", async () => {
    const brew = removed;
    if (brew && await change(() => keep([brew]))) restore.hidden = true;
  });

  /** @type {Fit | null} */
  let fit = null;
  byID("fit").addEventListener("click", async () => {
    fit = null;
    useButton.hidden = true;
    if (brews.length < 2) {
      result.textContent = say("fit_missing");
      return;
    }
    try {
      const found = await request("POST", "/v1/calc/fit", { json: { brews: brews.map(({ dose_g, brew_water_g, beverage_g, tds_pct }) => ({ dose_g, brew_water_g, beverage_g, tds_pct })) } });
      fit = found;
      result.textContent = [say("fitted", { n: found.brews, yield: number(found.max_yield_pct, 1), yield_pm: number(found.max_yield_plus_minus, 1),
        kept: number(found.retained_ratio, 2), kept_pm: number(found.retained_ratio_plus_minus, 2) }), ...found.cautions].join(" ");
      useButton.hidden = false;
    } catch (error) {
      result.textContent = reason(error);
    }
  });
  useButton.addEventListener("click", () => { if (fit) use(fit); });

  // Brews that an earlier version noted on this device go to the service.
  /** @type {Stored<string[][]>} */
  const notes = new Stored("hotday.brews." + site + "." + coffee);
  const noted = (notes.value ?? []).map((v, i) => ({ coffee, at: new Date(Date.now() + i).toISOString(), dose_g: units.readMass(v[0] ?? "", unit),
    brew_water_g: units.readMass(v[1] ?? "", unit), beverage_g: units.readMass(v[2] ?? "", unit), tds_pct: digits((v[3] ?? "").replace("%", "")) }))
    .filter((b) => [b.dose_g, b.brew_water_g, b.beverage_g, b.tds_pct].every((x) => x > 0));
  if (noted.length) change(() => keep(noted)).then((kept) => { if (kept) notes.value = null; });
  show();
}
