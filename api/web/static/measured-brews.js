// Measured brews: a table kept on this device, from which the service fits how much of the coffee dissolves and how much the grounds retain.
import { plotMeasured } from "./brew-chart.js";
import { Refusal, Stored, all, byID, element, one, pageData, request, say, site } from "./page.js";
import { digits, number, quantity } from "./quantity.js";

/** @typedef {{ max_yield_pct: number, retained_ratio: number }} Fit */

const COLUMNS = ["dose", "water", "beverage", "tds"];
const EMPTY_ROWS = 2; // a fit needs two brews
const unit = pageData.unit;
const { readMass } = quantity({});
const table = byID("brews", HTMLTableElement).tBodies[0];

/**
 * connectBrews shows the brews of a coffee.
 * @param {string} coffee
 * @param {(fit: Fit) => void} use what was fitted
 */
export function connectBrews(coffee, use) {
  /** @type {Stored<string[][]>} */
  const notes = new Stored("hotday.brews." + site + "." + coffee);
  const fields = (/** @type {HTMLTableRowElement} */ row) => all(row, "input", HTMLInputElement);

  /** @param {string[]} values */
  function addRow(values) {
    const n = table.rows.length + 1, row = table.insertRow();
    const name = element("th", say("brew_n", { n }));
    name.scope = "row";
    row.append(name);
    COLUMNS.forEach((column, i) => {
      const cell = row.insertCell(), field = element("input");
      cell.dataset.label = say(column) + (column === "tds" ? "" : ", " + unit);
      field.inputMode = "decimal";
      field.setAttribute("aria-label", say(column + "_of", { n }));
      field.value = values[i] ?? "";
      field.addEventListener("input", () => {
        notes.value = [...table.rows].map((r) => fields(r).map((f) => f.value));
        plot();
      });
      cell.append(field);
    });
  }

  // read returns the brews with all four numbers; null where one has only some, or something that is not a number.
  function read() {
    const brews = [];
    for (const row of table.rows) {
      const values = fields(row).map((field) => field.value.trim());
      if (values.every((value) => value === "")) continue;
      const [dose, water, beverage] = values.slice(0, 3).map((value) => readMass(value, unit)), tds = digits(values[3].replace("%", ""));
      if ([dose, water, beverage, tds].some((x) => !(x > 0))) return null;
      brews.push({ dose_g: dose, brew_water_g: water, beverage_g: beverage, tds_pct: tds });
    }
    return brews;
  }

  const plot = () => plotMeasured((read() ?? []).map((b) => ({ yieldPct: b.tds_pct * b.beverage_g / b.dose_g, tdsPct: b.tds_pct })));

  const result = byID("fitted"), useButton = byID("use-fit", HTMLButtonElement);
  /** @type {Fit | null} */
  let fit = null;
  byID("another").addEventListener("click", () => {
    addRow([]);
    one(table.rows[table.rows.length - 1], "input").focus();
  });
  byID("fit").addEventListener("click", async () => {
    const brews = read();
    fit = null;
    useButton.hidden = true;
    if (!brews || brews.length < 2) {
      result.textContent = say("fit_missing");
      return;
    }
    try {
      const found = await request("POST", "/v1/calc/fit", { json: { brews } });
      fit = found;
      result.textContent = [say("fitted", { n: found.brews, yield: number(found.max_yield_pct, 1), yield_pm: number(found.max_yield_plus_minus, 1),
        kept: number(found.retained_ratio, 2), kept_pm: number(found.retained_ratio_plus_minus, 2) }), ...found.cautions].join(" ");
      useButton.hidden = false;
    } catch (error) {
      result.textContent = error instanceof Refusal ? error.message : say("no_answer");
    }
  });
  useButton.addEventListener("click", () => { if (fit) use(fit); });

  const kept = notes.value ?? [];
  for (let i = 0; i < Math.max(EMPTY_ROWS, kept.length); i++) addRow(kept[i] ?? []);
  plot();
}
