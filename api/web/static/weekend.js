// Weekend: plans again, publishes, corrects a number in its place, tries a fix and applies it.
import { addCards } from "./card.js";
import { listen, showProgress } from "./live.js";
import { all, byID, clicked, csrfToken, data, element, maybe, one, pageData, reason, request, say, site, siteURL, trouble } from "./page.js";
import { percent, typed } from "./quantity.js";
import { saved } from "./saved.js";

const status = maybe("said");
const form = maybe("plan", HTMLFormElement); // only for people who may plan
const planURL = siteURL + "/plans/" + pageData.revision;

const show = (/** @type {string} */ text) => { if (status) status.textContent = text; };
const reopen = () => location.assign("/s/" + encodeURIComponent(site) + "/weekend" + location.search);

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
    show(reason(error));
    button.disabled = false;
  }
  document.body.removeAttribute("aria-busy");
}

// Corrected numbers are sent one after the other, so that the last one typed stays.
let corrections = Promise.resolve(), waiting = 0;

/** @param {() => Promise<void>} send */
function correct(send) {
  waiting++;
  corrections = corrections.then(send).finally(() => waiting--);
}

// A form that plans again waits for the numbers that are still on their way.
for (const planning of all(document, "form[data-plans]", HTMLFormElement)) {
  planning.addEventListener("submit", async (event) => {
    if (waiting === 0) return;
    event.preventDefault();
    await corrections;
    planning.requestSubmit(event.submitter);
  });
}

// A plan that is being computed: everybody's page shows how far it is. The page of whoever waits for it shows the new plan by itself.
const planning = byID("planning");
/** @type {Record<string, string>} */
const planningWords = JSON.parse(data(planning).words);
let awaited = !planning.hidden && !one(planning, "progress").hidden;

/** @param {{ step: string, share: number, over: boolean, problem: string }} job */
function showPlanning({ step, share, over, problem }) {
  const bar = one(planning, "progress", HTMLProgressElement), words = one(planning, ".planning-step");
  const button = planning.querySelector("button");
  if (over && awaited && !problem) {
    reopen();
    return;
  }
  planning.hidden = over && !problem;
  bar.hidden = over;
  bar.value = Math.round(100 * share);
  words.textContent = planningWords[problem ? "problem." + problem : "step." + step];
  if (button) button.textContent = planningWords[problem ? "dismiss" : "cancel"];
  if (over) awaited = false;
}

for (const { id, action, text } of [{ id: "publish", action: "/publish", text: "publishing" }, { id: "aside", action: "/set-aside", text: "putting_aside" }]) {
  const button = maybe(id, HTMLButtonElement);
  button?.addEventListener("click", () => busy(button, say(text), async () => {
    await request("POST", planURL + action, { json: {} });
    reopen();
  }));
}

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

/**
 * undoWith returns what undoes a change of numbers.
 * @param {unknown[]} rows
 * @param {() => void} restore shows them as they were
 */
const undoWith = (rows, restore) => async () => {
  await request("PUT", siteURL + "/expected-demand", { json: { rows } });
  restore();
};

/** @param {string} date @param {string} drink */
const partsOf = (date, drink) => all(document, 'table[data-date="' + date + '"] input[data-drink="' + CSS.escape(drink) + '"]', HTMLInputElement);

/** @param {string} date @param {string} drink */
const totalOf = (date, drink) => document.querySelector('.expected[data-date="' + date + '"] input[data-drink="' + CSS.escape(drink) + '"]');

/**
 * setTotal shows a day's number of a drink as saved.
 * @param {string} date
 * @param {string} drink
 * @param {string} value
 */
function setTotal(date, drink, value) {
  const input = totalOf(date, drink);
  if (!(input instanceof HTMLInputElement)) return;
  input.value = value;
  const was = input.previousElementSibling;
  if (was instanceof HTMLInputElement) was.value = value;
}

/**
 * setPart shows the number of a part of the day as saved.
 * @param {HTMLInputElement} input
 * @param {string} value
 * @param {boolean} mine whether it is the manager's
 */
function setPart(input, value, mine) {
  input.value = data(input).kept = value;
  data(input).mine = mine ? "yes" : "";
}

/** @param {string} date @param {string} drink */
function addUp(date, drink) {
  const numbers = partsOf(date, drink).map((input) => input.value).filter((value) => value !== "");
  setTotal(date, drink, numbers.length === 0 ? "" : typed(Math.round(10 * numbers.reduce((sum, n) => sum + Number(n.replace(",", ".")), 0)) / 10));
}

for (const input of all(document, ".asked input", HTMLInputElement)) {
  setPart(input, input.value, input.closest("td")?.classList.contains("word") ?? false);
  input.addEventListener("change", () => {
    const text = input.value.trim().replace(",", ".");
    const n = text === "" ? null : Number(text);
    if (n !== null && !(n >= 0 && n <= 1e6)) {
      showFault(input, say("no_number", { typed: input.value }));
      return;
    }
    showFault(input, "");
    const { part, drink } = data(input), { date } = data(input.closest("table"));
    const row = { date, day_part: part, drink, expected: n, p10: null, p90: null };
    const { kept = "", mine } = data(input);
    correct(() => request("PUT", siteURL + "/expected-demand", { json: { rows: [row] } }).then(() => {
      input.closest("td")?.classList.add("changed");
      setPart(input, input.value, n !== null);
      addUp(date, drink);
      saved(say(n === null ? "taken_back" : "kept"), undoWith([{ ...row, expected: mine && kept !== "" ? Number(kept.replace(",", ".")) : null }], () => {
        setPart(input, kept, mine !== "");
        addUp(date, drink);
      }), input);
    }).catch((error) => showFault(input, reason(error))));
  });
}

/**
 * saveDay saves numbers of a day: the service splits them over its parts.
 * @param {HTMLFormElement} form
 * @param {HTMLElement} place where it was asked for
 * @param {Record<string, string>} fields
 */
function saveDay(form, place, fields) {
  const { date } = data(form), wrong = one(form, ".wrong");
  wrong.textContent = "";
  const body = new URLSearchParams({ csrf: csrfToken(), date, ...fields });
  const send = async () => {
    const answer = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "manual" });
    if (answer.type === "opaqueredirect") throw new Error(trouble("unauthorised"));
    if (!answer.ok) throw new Error(answer.status === 422 ? say("no_number", { typed: Object.values(fields)[0] }) : trouble("internal"));
    const change = await answer.json();
    /** @type {(() => void)[]} */
    const restores = [];
    for (const { part, drink, value } of change.cells) {
      const input = partsOf(date, drink).find((input) => data(input).part === part);
      if (!input || input.value === value) continue;
      const { kept: was = "", mine } = data(input);
      restores.push(() => setPart(input, was, mine !== ""));
      setPart(input, value, true);
      input.closest("td")?.classList.add("changed");
    }
    for (const { drink, value } of change.totals) {
      const was = /** @type {HTMLInputElement} */ (totalOf(date, drink)?.previousElementSibling).value;
      restores.push(() => setTotal(date, drink, was));
      setTotal(date, drink, value);
      totalOf(date, drink)?.closest("td")?.classList.add("changed");
    }
    saved(say("kept"), undoWith(change.before, () => { for (const restore of restores) restore(); }), place);
  };
  correct(() => send().catch((error) => { wrong.textContent = error instanceof TypeError ? trouble("unreachable") : error.message; }));
}

for (const form of all(document, "form.expected", HTMLFormElement)) {
  for (const input of all(form, "input[data-drink]", HTMLInputElement)) {
    input.addEventListener("change", () => saveDay(form, input, { [input.name]: input.value, ["was/" + data(input).drink]: "\u2014" }));
  }
  form.addEventListener("click", (event) => {
    const button = clicked(event);
    if (button?.name !== "copy") return;
    event.preventDefault();
    saveDay(form, button, { copy: button.value === "source" ? one(form, "select", HTMLSelectElement).value : button.value });
  });
}

// A strip's card shows in words what the strip draws: the table row that it links to.
addCards(all(document, "a.days"), (strip) => {
  const row = document.getElementById(/** @type {HTMLAnchorElement} */ (strip).hash.slice(1));
  return row instanceof HTMLTableRowElement ? [...row.cells].map((cell) => (cell.dataset.label ? cell.dataset.label + ": " : "") + cell.textContent) : [];
});

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
  if (awaited || document.body.hasAttribute("aria-busy")) return; // this page did it, and will show it in a moment
  one(news, "span").textContent = text;
  news.hidden = false;
}

/** @param {{ kind: string, share: number, over: boolean }} job */
function showLearning({ kind, share, over }) {
  const work = maybe("work");
  if (!work || kind !== "refit") return;
  if (!over) showProgress(kind, say("learning", { share: percent(100 * share) }), form !== null);
  else if (work.querySelector('[data-kind="refit"]')) showProgress(kind, say("learnt"), false);
}

maybe("work")?.addEventListener("click", (event) => {
  const stop = clicked(event);
  if (!stop) return;
  stop.disabled = true;
  request("DELETE", siteURL + "/work/" + data(stop.closest("[data-kind]")).kind).catch((error) => {
    stop.disabled = false;
    show(reason(error));
  });
});

listen({
  plan({ problem, revision }) {
    if (problem) announce(say("plan_failed", { why: problem }));
    else if (revision > Number(pageData.revision)) announce(say("newer", { revision }));
  },
  sheet() { announce(say("new_sheet")); },
  work(job) {
    if (job.kind === "plan") showPlanning(job);
    else showLearning(job);
  },
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
    if (answer.redirected || !(answer.headers.get("Content-Type") ?? "").startsWith("text/html")) place.textContent = trouble("unauthorised");
    else place.innerHTML = await answer.text();
    if (!form) for (const apply of all(place, ".take")) apply.remove();
  } catch {
    place.textContent = trouble("unreachable");
  }
  button.disabled = false;
}

/** @param {HTMLButtonElement} button whose data hold the requests that make the change */
async function applyFix(button) {
  for (const step of JSON.parse(data(button).steps)) await request(step.method, step.path, { json: step.body, match: step.match });
  form?.requestSubmit();
}
