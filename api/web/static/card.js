// The card of a mark: what a drawing shows at it, in words. It opens by pointer, touch and keyboard, one at a time, and closes with
// Escape, a second tap or a tap elsewhere. The marks of a drawing are one stop of the Tab key; arrow keys go from mark to mark.
import { all, element } from "./page.js";

const GAP = 8; // px between the card and the edges of the window
const card = element("div");
card.id = "card";
card.setAttribute("role", "tooltip");
card.hidden = true;
document.body.append(card);

/** @type {Element | null} */
let shownAt = null;

/**
 * showCard shows lines at a mark, clear of the edges of the window.
 * @param {Element} mark
 * @param {string[]} lines
 */
export function showCard(mark, lines) {
  card.replaceChildren(...lines.map((line) => element("span", line)));
  card.hidden = false;
  shownAt = mark;
  const at = mark.getBoundingClientRect(), view = document.documentElement.clientWidth;
  const left = Math.max(GAP, Math.min(at.left, view - card.offsetWidth - GAP));
  const below = at.bottom + GAP, above = at.top - card.offsetHeight - GAP;
  card.style.left = left + scrollX + "px";
  card.style.top = (below + card.offsetHeight > innerHeight && above > 0 ? above : below) + scrollY + "px";
}

export function hideCard() {
  card.hidden = true;
  shownAt = null;
}

/**
 * addCards gives marks their cards.
 * @param {Element[]} marks
 * @param {(mark: Element) => string[]} linesOf the lines of a mark, none for no card
 */
export function addCards(marks, linesOf) {
  const show = (/** @type {Element} */ mark) => {
    const lines = linesOf(mark);
    if (lines.length > 0) showCard(mark, lines);
  };
  for (const mark of marks) {
    let wasOpen = false, touched = false;
    mark.addEventListener("pointerenter", (event) => { if (/** @type {PointerEvent} */ (event).pointerType === "mouse") show(mark); });
    mark.addEventListener("pointerleave", (event) => { if (/** @type {PointerEvent} */ (event).pointerType === "mouse") hideCard(); });
    mark.addEventListener("pointerdown", (event) => {
      touched = /** @type {PointerEvent} */ (event).pointerType !== "mouse";
      wasOpen = shownAt === mark;
    });
    mark.addEventListener("focus", () => { if (!touched) show(mark); });
    mark.addEventListener("blur", () => { if (shownAt === mark) hideCard(); });
    mark.addEventListener("click", (event) => {
      if (!touched) return; // a mouse or a key follows the link: its card is open already
      touched = false;
      event.preventDefault();
      if (wasOpen) hideCard();
      else show(mark);
    });
  }
}

/**
 * rove makes the marks of a drawing one stop of the Tab key.
 * @param {SVGElement[]} marks
 */
function rove(marks) {
  marks.forEach((mark, i) => {
    mark.setAttribute("tabindex", i === 0 ? "0" : "-1");
    mark.addEventListener("keydown", (event) => {
      const inTime = marks.toSorted((a, b) => a.getBoundingClientRect().left - b.getBoundingClientRect().left), at = inTime.indexOf(mark);
      const next = { ArrowRight: at + 1, ArrowDown: at + 1, ArrowLeft: at - 1, ArrowUp: at - 1, Home: 0, End: marks.length - 1 }[/** @type {KeyboardEvent} */ (event).key];
      const to = next === undefined ? undefined : inTime[next];
      if (!to) return;
      event.preventDefault();
      mark.setAttribute("tabindex", "-1");
      to.setAttribute("tabindex", "0");
      to.focus();
    });
  });
}

for (const drawing of all(document, "svg.picture[role=group]", SVGElement)) {
  const marks = all(drawing, "[aria-label]", SVGElement);
  rove(marks);
  addCards(marks, (mark) => [mark.getAttribute("aria-label") ?? ""]);
}
addEventListener("keydown", (event) => { if (event.key === "Escape") hideCard(); });
addEventListener("pointerdown", (event) => { if (shownAt && event.target instanceof Node && !shownAt.contains(event.target) && !card.contains(event.target)) hideCard(); });
