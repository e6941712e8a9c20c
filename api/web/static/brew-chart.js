// The plot of strength over extraction yield.
import { byID, data, one } from "./page.js";

const chart = data(one(document, ".brew-chart", SVGElement));
const scale = (/** @type {string} */ name) => Number(chart[name]);
const clamp = (/** @type {number} */ x) => Math.min(1, Math.max(0, x));

/**
 * point is the place of a brew in the plot; one beyond its scales is at their end.
 * @param {{ yieldPct: number, tdsPct: number }} brew
 */
const point = ({ yieldPct, tdsPct }) => ({
  x: scale("left") + (scale("right") - scale("left")) * clamp((yieldPct - scale("yieldLow")) / (scale("yieldHigh") - scale("yieldLow"))),
  y: scale("base") - (scale("base") - scale("top")) * clamp(tdsPct / scale("most")),
});

/**
 * plotRecipe moves the dot of the recipe.
 * @param {{ yieldPct: number, tdsPct: number }} brew
 */
export function plotRecipe(brew) {
  const { x, y } = point(brew);
  byID("tried-mark", SVGElement).setAttribute("transform", "translate(" + x + " " + y + ")");
}

/**
 * plotMeasured draws a cross for each measured brew.
 * @param {{ yieldPct: number, tdsPct: number }[]} brews
 */
export function plotMeasured(brews) {
  byID("measured-marks", SVGElement).replaceChildren(...brews.map((brew) => {
    const cross = document.createElementNS("http://www.w3.org/2000/svg", "path"), { x, y } = point(brew);
    cross.setAttribute("class", "measured");
    cross.setAttribute("d", "M" + (x - 6) + " " + (y - 6) + "l12 12m0 -12l-12 12");
    return cross;
  }));
}
