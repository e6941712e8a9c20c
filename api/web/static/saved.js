// The bar that says what was saved, with a button that undoes it. One for all pages: it lies over the foot of the page, comes right after
// the place where something was saved in the order of the Tab key, and stays for a while, for as long as the pointer or the focus is on it.
import { Stored, element, frameText } from "./page.js";

const STAYS_MS = 12e3;

const bar = element("div"), words = element("span"), button = element("button", frameText("undo"));
bar.className = "saved";
bar.setAttribute("role", "status");
bar.hidden = true;
words.tabIndex = -1;
button.type = "button";
button.className = "do lesser";
bar.append(words, button);
document.body.append(bar); // there before it says anything: a screen reader reads what changes

let timer = 0;
/** @type {(() => Promise<unknown>) | undefined} */
let undo;

const inUse = () => bar.matches(":hover") || bar.contains(document.activeElement);
const hide = () => { bar.hidden = true; };

function wait() {
  clearTimeout(timer);
  if (!inUse()) timer = setTimeout(hide, STAYS_MS);
}

for (const kind of ["pointerenter", "focusin"]) bar.addEventListener(kind, () => clearTimeout(timer));
for (const kind of ["pointerleave", "focusout"]) bar.addEventListener(kind, () => setTimeout(wait)); // once the focus is elsewhere
addEventListener("keydown", (event) => { if (event.key === "Escape") hide(); });

button.addEventListener("click", async () => {
  button.disabled = true;
  try {
    await undo?.();
    words.textContent = frameText("undone");
  } catch {
    words.textContent = frameText("not_undone");
  }
  words.focus();
  button.hidden = true;
});

/**
 * saved says that something was saved.
 * @param {string} text a sentence
 * @param {() => Promise<unknown>} [undoing] puts things back as they were; none: there is nothing to undo
 * @param {Element | null} [place] where it was saved: the next Tab from there leads to the bar
 */
export function saved(text, undoing, place) {
  undo = undoing;
  if (place && place.nextElementSibling !== bar) place.after(bar);
  words.textContent = text;
  button.hidden = !undoing;
  button.disabled = false;
  bar.hidden = false;
  wait();
}

/** Note is what a page leaves for the one that is loaded after saving. */
export const note = new Stored("hotday.saved", "sessionStorage");
