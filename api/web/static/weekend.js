// Weekend: plans again, publishes, corrects a number in its place, tries a fix and applies it.
import { listen, showProgress } from "./live.js";
import { all, byID, clicked, csrfToken, data, element, maybe, one, pageData, request, say, site, siteURL, whyNot } from "./page.js";
import { saved } from "./saved.js";

const GAP = 8; // px between the tooltip and the edge of the window
const status = maybe("said");
const form = maybe("plan", HTMLFormElement); // only for people who may plan
const planURL = siteURL + "/plans/" + pageData.revision;

const show = (/** @type {string} */ text) => { if (status) status.textContent = text; };
const reopen = () => location.assign(location.pathname);

/**
 * busy runs some work that a button has begun; the button comes back where the work fails.
 * @param {HTMLButtonElement} button
 * @param {string} text shown meanwhile
 * @param {() => Promise<void>} work
 */
async function busy(button, text, work) {
  button.disabled = true;
  document.body.setAttribute("aria-busy", "true");
  show(text);
  try {
    await work();
  } catch (error) {
    show(whyNot(error));
    button.disabled = false;
  }
  document.body.removeAttribute("aria-busy");
}

async function planAgain() {
  if (!form) return;
  await corrections;
  const done = showSeconds();
  try {
    const value = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (form.elements.namedItem(name)).value;
    await request("POST", siteURL + "/plans", { json: { from: value("from"), days: Number(value("days")) } });
    reopen();
  } finally {
    done();
  }
}

// showSeconds shows how long the work has taken so far, without a screen reader reading out each second. It returns what ends it.
function showSeconds() {
  const began = Date.now(), seconds = element("span");
  seconds.setAttribute("aria-hidden", "true");
  const tick = setInterval(() => {
    if (!seconds.isConnected) status?.append(" ", seconds);
    seconds.textContent = Math.round((Date.now() - began) / 1000) + "\u202fs";
  }, 1000);
  return () => {
    clearInterval(tick);
    seconds.remove();
  };
}

form?.addEventListener("submit", (event) => {
  event.preventDefault();
  busy(one(form, "button[name=again]", HTMLButtonElement), say("planning"), planAgain);
});
const heat = maybe("heat", HTMLFormElement);
heat?.addEventListener("submit", (event) => {
  event.preventDefault();
  const button = /** @type {HTMLButtonElement} */ (event.submitter ?? one(heat, "button", HTMLButtonElement));
  busy(button, say("planning"), async () => {
    const answer = await fetch(heat.action, { method: "POST", body: new URLSearchParams(/** @type {any} */ (new FormData(heat, button))), redirect: "manual" });
    if (answer.type !== "opaqueredirect") throw new Error(say("no_temp", { typed: /** @type {HTMLInputElement} */ (heat.elements.namedItem("high")).value }));
    await planAgain();
  });
});
for (const { id, action, text } of [{ id: "publish", action: "/publish", text: "publishing" }, { id: "aside", action: "/set-aside", text: "putting_aside" }]) {
  const button = maybe(id, HTMLButtonElement);
  button?.addEventListener("click", () => busy(button, say(text), async () => {
    await request("POST", planURL + action, { json: {} });
    reopen();
  }));
}

// Corrected numbers are sent one after the other, so that the last one typed stays.
let corrections = Promise.resolve();

/**
 * showFault writes a fault beside its field, where the eye is; none removes it.
 * @param {HTMLInputElement} input
 * @param {string} text
 */
function showFault(input, text) {
  const id = input.id + "-w", basis = input.id + "-r";
  let line = document.getElementById(id);
  if (!text) {
    input.removeAttribute("aria-invalid");
    line?.remove();
    input.setAttribute("aria-describedby", basis);
    return;
  }
  if (!line) {
    line = element("span");
    line.id = id;
    line.className = "wrong";
    input.after(line);
  }
  line.textContent = text;
  input.setAttribute("aria-invalid", "true");
  input.setAttribute("aria-describedby", id + " " + basis);
  show(text);
}

for (const input of all(document, ".asked input", HTMLInputElement)) {
  let kept = { n: input.closest("td")?.matches(".word") ? Number(input.value.replace(",", ".")) : null, text: input.value };
  input.addEventListener("change", () => {
    const text = input.value.trim().replace(",", ".");
    const n = text === "" ? null : Number(text);
    if (n !== null && !(n >= 0 && n <= 1e6)) {
      showFault(input, say("no_number", { typed: input.value }));
      return;
    }
    showFault(input, "");
    const { part, drink } = data(input), { date } = data(input.closest("table"));
    const row = { date, day_part: part, drink, p10: null, p90: null };
    const put = (/** @type {number | null} */ expected) => request("PUT", siteURL + "/expected-demand", { json: { rows: [{ ...row, expected }] } });
    const before = kept;
    corrections = corrections.then(() => put(n)).then(() => {
      kept = { n, text: input.value };
      input.closest("td")?.classList.add("changed");
      saved(say(n === null ? "taken_back" : "kept"), async () => {
        await put(before.n);
        kept = before;
        input.value = before.text;
      }, input);
    }).catch((error) => showFault(input, whyNot(error)));
  });
}

// A strip's tooltip shows in words what the strip draws: the table row that it links to.
const tooltip = maybe("told");

/**
 * @param {HTMLElement} tip
 * @param {HTMLAnchorElement} strip
 */
function showTooltip(tip, strip) {
  const row = document.getElementById(strip.hash.slice(1));
  if (!(row instanceof HTMLTableRowElement)) return;
  tip.replaceChildren(...[...row.cells].map((cell) => element("span", (cell.dataset.label ? cell.dataset.label + ": " : "") + cell.textContent)));
  tip.hidden = false;
  const at = strip.getBoundingClientRect();
  tip.style.left = Math.max(GAP, Math.min(at.left, document.documentElement.clientWidth - tip.offsetWidth - GAP)) + scrollX + "px";
  const above = at.top - tip.offsetHeight - 6;
  tip.style.top = (at.bottom + tip.offsetHeight + 6 > innerHeight && above > 0 ? above : at.bottom + 6) + scrollY + "px";
}

if (tooltip) {
  const hide = () => { tooltip.hidden = true; };
  for (const strip of all(document, "a.days", HTMLAnchorElement)) {
    for (const kind of ["mouseenter", "focus"]) strip.addEventListener(kind, () => showTooltip(tooltip, strip));
    for (const kind of ["mouseleave", "blur"]) strip.addEventListener(kind, hide);
  }
  addEventListener("keydown", (event) => { if (event.key === "Escape") hide(); });
}

// A row that the picture links to is unfolded; on paper everything is.
function unfoldTarget() {
  const row = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  let unfolded = false;
  for (let around = row?.closest("details") ?? null; around; around = around.parentElement?.closest("details") ?? null) {
    unfolded ||= !around.open;
    around.open = true;
  }
  if (unfolded) row?.scrollIntoView({ block: "center" });
}
addEventListener("hashchange", unfoldTarget);
unfoldTarget();

/** @type {HTMLDetailsElement[]} */
let folded = [];
addEventListener("beforeprint", () => {
  folded = all(document, "details:not([open]):not(.why):not(.before):not(.hourly)", HTMLDetailsElement);
  for (const details of folded) details.open = true;
});
addEventListener("afterprint", () => { for (const details of folded) details.open = false; });

// What others do is announced in one line; the page stays as it is until somebody asks for the new one.
const news = byID("news");

/** @param {string} text */
function announce(text) {
  if (document.body.hasAttribute("aria-busy")) return; // this page did it, and will show it in a moment
  one(news, "span").textContent = text;
  news.hidden = false;
}

/** @param {{ kind: string, share: number, over: boolean }} job */
function showLearning({ kind, share, over }) {
  const work = maybe("work");
  if (!work || kind !== "refit") return;
  if (!over) showProgress(kind, say("learning", { share: Math.round(100 * share) + "%" }), form !== null);
  else if (work.querySelector('[data-kind="refit"]')) showProgress(kind, say("learnt"), false);
}

maybe("work")?.addEventListener("click", (event) => {
  const stop = clicked(event);
  if (!stop) return;
  stop.disabled = true;
  request("DELETE", siteURL + "/work/" + data(stop.closest("[data-kind]")).kind).catch((error) => {
    stop.disabled = false;
    show(whyNot(error));
  });
});

listen({
  plan({ problem, revision }) {
    if (problem) announce(say("plan_failed", { why: problem }));
    else if (revision > Number(pageData.revision)) announce(say("newer", { revision }));
  },
  sheet({ revision }) { announce(revision ? say("new_sheet_of", { revision }) : say("new_sheet")); },
  work: showLearning,
  warning({ opened = [], updated = [] }) {
    if (opened?.length) announce(say("new_warning"));
    else if (updated?.length) announce(say("warning_changed"));
  },
});

document.addEventListener("click", (event) => {
  const button = clicked(event);
  if (button?.matches(".try")) tryFix(button);
  if (button?.matches(".take")) busy(button, say("taking"), () => applyFix(button));
});

/** @param {HTMLButtonElement} button whose data name the warning and the fix */
async function tryFix(button) {
  const place = one(/** @type {HTMLElement} */ (button.closest(".warning")), ".tried");
  for (const other of all(document, "button.try")) other.removeAttribute("aria-expanded");
  button.setAttribute("aria-expanded", "true");
  button.disabled = true;
  place.textContent = say("trying");
  const { warning, way } = data(button);
  const body = new URLSearchParams({ csrf: csrfToken(), revision: pageData.revision, warning, way });
  try {
    const answer = await fetch("/s/" + encodeURIComponent(site) + "/weekend/try", { method: "POST", body });
    if (answer.redirected || !(answer.headers.get("Content-Type") ?? "").startsWith("text/html")) place.textContent = say("signed_out");
    else place.innerHTML = await answer.text();
    if (!form) for (const apply of all(place, ".take")) apply.remove();
  } catch {
    place.textContent = say("no_answer");
  }
  button.disabled = false;
}

/** @param {HTMLButtonElement} button whose data hold the requests that make the change */
async function applyFix(button) {
  for (const step of JSON.parse(data(button).steps)) await request(step.method, step.path, { json: step.body, match: step.match });
  show(say("planning"));
  await planAgain();
}
