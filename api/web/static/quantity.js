// Quantities in the units of the site, formatted and read as planner/say does on the server.

const OZ = 28.349523125, LB = 453.59237; // g
const FL_OZ = 0.0295735295625, GAL = 3.785411784; // L
const MASSES = { g: 1, kg: 1000, oz: OZ, lb: LB, lbs: LB };
const VOLUMES = { l: 1, ml: 0.001, "fl oz": FL_OZ, floz: FL_OZ, oz: FL_OZ, gal: GAL };
const LARGEST = 1e7; // g or L
const THIN = "\u202f"; // space

/** The decimal sign of the page's language. */
const POINT = (1.5).toLocaleString(document.documentElement.lang).charAt(1);

/**
 * number writes x with thin spaces between thousands, the decimal sign of the language and a true minus sign.
 * @param {number} x
 */
export function number(x, decimals = 0) {
  const [whole, part] = Math.abs(x).toFixed(decimals).split(".");
  const grouped = whole.replace(/\B(?=(\d{3})+$)/g, THIN) + (part ? POINT + part : "");
  return x < 0 && /[1-9]/.test(grouped) ? "−" + grouped : grouped;
}

/** What follows the number of a percentage in the page's language. */
export const PERCENT = (0.5).toLocaleString(document.documentElement.lang, { style: "percent" }).replace(/^\d+/, "").replace(/\s/, THIN);

/**
 * percent writes a percentage: "1.45%".
 * @param {number} x
 */
export const percent = (x, decimals = 0) => number(x, decimals) + PERCENT;

/**
 * typed writes a number as a person would type it into a field: without groups, with the decimal sign of the language.
 * @param {number} x
 */
export const typed = (x) => String(x).replace(".", POINT);

/** onStep reports whether x is a whole number of steps but for rounding errors. */
const onStep = (/** @type {number} */ x) => Math.abs(x - Math.round(x)) < 1e-5 * Math.max(1, Math.abs(x) / 1e4);

/** tenths writes x with one decimal unless that is zero. */
const tenths = (/** @type {number} */ x) => number(x, Math.abs(x - Math.round(x)) < 0.05 ? 0 : 1);

const plain = (/** @type {string} */ text) => text.replace(/[\u202f\u00a0\u2009]/g, " ").replace(/−/g, "-").trim().toLowerCase();

/**
 * digits reads "4.5", "4,5", "4 500" and "4,500.5". Anything else is NaN, also "4,500", which could mean either.
 * @param {string} text
 */
export function digits(text) {
  let s = plain(text).replace(/ /g, "");
  const commas = s.split(",").length - 1;
  if (commas && s.includes(".")) {
    if (s.lastIndexOf(",") > s.indexOf(".")) return NaN;
    s = s.replace(/,/g, "");
  } else if (commas > 1 || (commas && s.length - s.indexOf(",") === 4 && !s.startsWith("0,"))) return NaN;
  else s = s.replace(",", ".");
  return /^(\d+\.?\d*|\.\d+)$/.test(s) ? Number(s) : NaN;
}

/**
 * read adds up a quantity such as "4 lb 3 oz", whose units get smaller; NaN where it is none.
 * @param {string} text
 * @param {Record<string, number>} units how much of the base unit each is
 * @param {string} unit of a bare number
 */
function read(text, units, unit) {
  let rest = plain(text), total = 0, smallest = Infinity;
  if (!rest) return NaN;
  while (rest) {
    const m = /^\s*([0-9][0-9., ]*|[.,][0-9]+)\s*([a-z]+(?: oz)?)?/.exec(rest);
    if (!m) return NaN;
    const x = digits(m[1]), per = units[m[2] || unit.toLowerCase()];
    if (Number.isNaN(x) || !per || per >= smallest || (!m[2] && smallest < Infinity)) return NaN;
    total += x * per;
    smallest = per;
    rest = rest.slice(m[0].length).trim();
  }
  return total <= LARGEST ? total : NaN;
}

/** @param {number} g */
function poundsAndOunces(g) {
  if (Math.abs(g) / OZ < 15.995) return number(g / OZ, 2) + THIN + "oz";
  const oz = Math.abs(g) / OZ, parts = onStep(oz * 100) ? 100 : 10; // of an ounce
  const n = Math.round(oz * parts), lb = Math.floor(n / (16 * parts)), rest = (n - 16 * parts * lb) / parts;
  return (g < 0 ? "−" : "") + number(lb) + THIN + "lb" + (rest ? " " + number(rest, onStep(rest * 10) ? 1 : 2) + THIN + "oz" : "");
}

/**
 * quantity returns the functions for a site's units: grams to weigh exactly, mass and litres at a glance, temp in °C or °F, and what
 * reads them back (g, L; NaN for what is no quantity).
 * @param {{ pounds?: boolean, gallons?: boolean, fahrenheit?: boolean }} units
 */
export function quantity({ pounds = false, gallons = false, fahrenheit = false }) {
  const grams = (/** @type {number} */ g) =>
    pounds ? poundsAndOunces(g) : number(g, onStep(g * 10) && !onStep(g) || Math.abs(g) < 10 && Math.abs(g - Math.round(g)) >= 0.05 ? 1 : 0) + THIN + "g";
  const mass = (/** @type {number} */ g) => {
    const a = Math.abs(g);
    if (pounds) {
      if (a / LB >= 0.997) return number(g / LB, a / LB >= 99.95 ? 0 : 1) + THIN + "lb";
      return number(g / OZ, a / OZ >= 9.95 ? 0 : 1) + THIN + "oz";
    }
    return a >= 999.5 ? number(g / 1000, a >= 99950 ? 0 : 1) + THIN + "kg" : grams(g);
  };
  const litres = (/** @type {number} */ l) => {
    const a = Math.abs(l);
    if (!gallons) return (a >= 99.95 ? number(l) : tenths(l)) + THIN + "L";
    if (a / GAL >= 0.995) return number(l / GAL, a / GAL >= 99.95 ? 0 : 1) + THIN + "gal";
    return number(l / FL_OZ) + THIN + "fl" + THIN + "oz";
  };
  const temp = (/** @type {number} */ c) =>
    fahrenheit ? number(c * 9 / 5 + 32) + THIN + "°F" : tenths(c) + THIN + "°C";
  const readMass = (/** @type {string} */ text, /** @type {string} */ unit) => read(text, MASSES, unit);
  const readVolume = (/** @type {string} */ text, /** @type {string} */ unit) => read(text, VOLUMES, unit);
  return { grams, mass, litres, temp, readMass, readVolume };
}
