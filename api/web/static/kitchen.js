// The wall screen. The server sends the day's tasks; this script shows the current one and takes marks, keeps them while there is no
// network and sends each once (its key makes sending it twice harmless), and fetches the board again whenever something has happened.
// The last board is kept on this device too (kitchen-offline.js), for a screen that starts without a network.
import { deviceClockWasSet, now, setClock } from "./clock.js";
import { amounts } from "./amount.js";
import { BatchQuestion } from "./batch-question.js";
import { ACT_NOW, DUE, allowSound, chime } from "./chime.js";
import { Connection } from "./connection.js";
import { countsOutbox, knownCount } from "./counts.js";
import { forgetOffline, keepOffline } from "./kitchen-offline.js";
import { eventData } from "./live.js";
import { marksOutbox, newMark } from "./marks.js";
import { newKey } from "./outbox.js";
import { Refusal, Stored, all, byID, clicked, data, maybe, one, pageData, reason, renewCSRF, request, say, site, siteURL } from "./page.js";
import { quantity } from "./quantity.js";

/** @typedef {import("./marks.js").Mark} Mark */

const MINUTE = 60e3;
const SOON = 15 * MINUTE; // a task is shown for so long before it is due
const OVERDUE = 5 * MINUTE;
const OLD = 90e3; // a screen that has heard nothing for so long says so
const REFRESH = MINUTE, REFRESH_WITH_BEATS = 5 * MINUTE;
const LOOK = 5e3; // how often the clock moves
const SLIP = 700; // a second touch so soon is a slip of a wet hand
const RELOAD_AT_MOST_EVERY = 10 * MINUTE;
const TIMEOUT = 10e3;
const FOUND_FRESH = 60 * MINUTE; // a count of ice is shown for so long
const SHOWN_NEXT = 5, SHOWN_ELSEWHERE = 12;
const LANES = ["", "-2"]; // of the current tasks, by what the ids of their controls end in
const MARKS_REMEMBERED = 50; // for Undo
const OUNCE_G = 28.349523125;

const mayMark = "mayMark" in pageData;
const pounds = "pounds" in pageData;
const board = byID("board"), trouble = byID("trouble");
const boardData = () => data(board.firstElementChild);

let currentAt = Date.now(); // when the board was last known to be current, by this device's clock
let fetchedAt = 0; // when the board came
let maybeOutdated = true; // something may have happened since
/** @type {string | null} a task that somebody brought forward */
let selected = null;
/** @type {string | null} the task that somebody is about to skip */
let skipping = null;
/** @type {{ id: string, lane: number }[]} tasks that were marked on this screen, the last one last */
let marked = [];
/** @type {string[]} the task in each lane, "" for none */
let lanes = ["", ""];

// What this screen was told to be. Without stations of its own it has those that it was paired for.
/** @type {Stored<string[]>} */
const ownStations = new Stored("hotday.stations." + site);
/** @type {Stored<boolean>} */
const ownSound = new Stored("hotday.sound." + site);
/** @type {Stored<number>} */
const reloadedAt = new Stored("hotday.renewed." + site);
let pickedStations = ownStations.value;
let sounds = ownSound.value === true;
const stations = () => pickedStations ?? boardData().mine.split("|").filter(Boolean);
const isMine = (/** @type {HTMLElement} */ task) => !stations().length || stations().includes(data(task).station);

/** @param {string} text */
function showTrouble(text) {
  trouble.hidden = !text;
  trouble.textContent = text;
}

function signedOut() {
  forgetOffline();
  if ("screen" in pageData) location.replace("/screen"); // a screen that was shut out shows a new code, and nothing about the site
  else showTrouble(say("signed_out"));
}

const outbox = marksOutbox({
  accepted: ({ task, body }, answer) => {
    showState(task, answer?.state || body.state);
    showTrouble("");
  },
  refused: (refusal) => showTrouble(say("not_taken", { why: refusal.message })),
  signedOut,
  unreachable: () => {}, // the waiting marks are counted on the screen
  settled: () => show(),
});

// Tasks

const tasks = () => all(board, "article.step");
const taskByID = (/** @type {string} */ id) => tasks().find((task) => task.dataset.id === id);
const lineOf = (/** @type {HTMLElement} */ task) => data(task).line;
/**
 * showState shows the state of a task and, once it is made or skipped, of the steps that its mark counts for.
 * @param {string} id
 * @param {string} state
 */
function showState(id, state) {
  for (const task of tasks()) {
    if (task.dataset.id === id || (task.dataset.line === id && state !== "started")) task.dataset.state = state;
  }
}
const dueAt = (/** @type {HTMLElement} */ task) => Number(task.dataset.at);
const isOpen = (/** @type {HTMLElement} */ task) => {
  const { id, line, until, state: shown } = data(task);
  const state = outbox.items.findLast((mark) => mark.task === id || (mark.task === line && mark.body.state !== "started"))?.body.state ?? shown;
  if (!["due", "started"].includes(state) || passed.has(id) || ("step1" in task.dataset && state === "started")) return false;
  return !until || Number(until) > now();
};

/** @type {Set<string>} steps in the middle of a batch that somebody has done: they have no mark */
const passed = new Set();

// currentTasks are the tasks to do now, one for each of up to two people who prep: the second one can be done at the same time as the
// first. A task keeps its place until it is done.
function currentTasks() {
  const due = tasks().filter((task) => isOpen(task) && isMine(task) && dueAt(task) <= now() + SOON);
  const brought = taskByID(selected ?? "");
  if (!brought || !isOpen(brought)) selected = null;
  const two = Number(boardData().people) > 1;
  const shown = (/** @type {HTMLElement} */ task) => lanes.indexOf(data(task).id);
  const kept = two ? due.filter((task) => shown(task) >= 0).sort((a, b) => shown(a) - shown(b)) : [];
  const first = (selected && brought) || kept[0] || due[0] || null;
  const beside = two && first ? due.filter((task) => data(first).with.split(" ").includes(data(task).id)) : [];
  const second = beside.find((task) => shown(task) >= 0) ?? beside[0] ?? null;
  const both = first && second && (shown(first) === 1 || shown(second) === 0) ? [second, first] : [first, second];
  lanes = both.map((task) => (task ? data(task).id : ""));
  return both;
}

/**
 * lastMarked is the task that was marked last and can be undone: in a lane of this screen or, after a reload, on any.
 * @param {number} lane
 */
function lastMarked(lane) {
  const isMarked = (/** @type {HTMLElement | undefined} */ task) => task && (outbox.items.findLast((mark) => mark.task === task.dataset.id)?.body.state ?? data(task).state) !== "due";
  const here = marked.findLast((m) => m.lane === lane && isMarked(taskByID(m.id)));
  const elsewhere = lane === 0 && !marked.some((m) => m.id === boardData().last) ? boardData().last : "";
  const task = taskByID(here?.id ?? elsewhere);
  return task && isMarked(task) ? task : null;
}

/**
 * sendMark keeps a mark and sends it.
 * @param {string} task
 * @param {string} state
 * @param {Partial<Mark>} [more]
 */
function sendMark(task, state, more) {
  outbox.add(newMark(task, state, more));
}

/**
 * mark marks a task, and asks what a batch came to.
 * @param {HTMLElement} task
 * @param {string} state
 * @param {Partial<Mark>} [more]
 */
function mark(task, state, more) {
  const id = lineOf(task), lane = Math.max(0, lanes.indexOf(data(task).id), marked.find((m) => m.id === id)?.lane ?? 0);
  if (question.isAbout(id)) question.drop();
  else question.answer();
  marked = marked.filter((other) => other.id !== id);
  if (state !== "due") marked = [...marked.slice(1 - MARKS_REMEMBERED), { id, lane }];
  else if (lane > 0) lanes[lane] = id;
  selected = state === "due" ? id : null;
  if (skipping === data(task).id) skipping = null;
  if (state === "made") byID("bar" + LANES[lane]).prepend(byID("ask-amount"));
  sendMark(id, state, more);
  if (state === "made") question.ask(task);
  show();
}

const question = new BatchQuestion(pounds ? OUNCE_G : 10, quantity({ pounds }).grams, (task, answer) => {
  if (Object.keys(answer).length) sendMark(task, "made", answer);
  show();
});

// Showing

/** @param {number} ms */
function span(ms) {
  const minutes = Math.round(ms / MINUTE), hours = Math.floor(minutes / 60);
  if (minutes < 1) return say("instant");
  if (minutes < 60) return minutes + "\u202fmin";
  return hours + "\u202fh" + (minutes % 60 ? " " + (minutes % 60) + "\u202fmin" : "");
}

// show puts the current task, what comes next and the clock on the screen.
function show() {
  const current = currentTasks();
  for (const task of tasks()) {
    const late = task.dataset.until ? Math.min(now() - dueAt(task), 0) : now() - dueAt(task); // what needs no mark is never late
    task.hidden = !current.includes(task);
    task.classList.toggle("second", task === current[1]);
    one(task, ".late").textContent = late > OVERDUE ? say("due_ago", { span: span(late) }) : late < -MINUTE ? say("due_in", { span: span(-late) }) : say("now");
    task.classList.toggle("overdue", late > OVERDUE);
  }
  byID("idle").hidden = !!current[0];
  byID("main").classList.toggle("two", !!current[1]);
  const open = tasks().filter((task) => isOpen(task) && !current.includes(task) && (!("apart" in task.dataset) || dueAt(task) <= now() + SOON)), next = open.filter(isMine);
  const idle = maybe("idle-words");
  if (!current[0] && idle && next.length) idle.textContent = say("next", { when: data(next[0]).clock, what: data(next[0]).short });
  showOnly("#next li", next.slice(0, SHOWN_NEXT));
  showElsewhere(open.filter((task) => !isMine(task)));
  for (const button of all(board, "[data-pick]")) {
    const { pick } = data(button);
    button.setAttribute("aria-pressed", String(pick ? stations().includes(pick) : !stations().length));
  }
  byID("sound").setAttribute("aria-pressed", String(sounds));
  if (mayMark) current.forEach(showControls);
  if (mayMark) showIce();
  showClock();
  soundAlerts();
}

/**
 * showOnly hides the lines of a list that are of other tasks.
 * @param {string} selector
 * @param {HTMLElement[]} shown
 */
function showOnly(selector, shown) {
  const ids = shown.map((task) => task.dataset.id);
  for (const line of all(board, selector)) line.hidden = !ids.includes(line.dataset.for);
}

/** @param {HTMLElement[]} elsewhere the open tasks of other stations, which are folded away */
function showElsewhere(elsewhere) {
  const others = byID("others");
  others.hidden = !elsewhere.length;
  const due = elsewhere.filter((task) => dueAt(task) <= now() + SOON).length;
  one(others, "summary").textContent = say(due ? "elsewhere_due" : "elsewhere", { n: elsewhere.length, due });
  showOnly("#others li", elsewhere.slice(0, SHOWN_ELSEWHERE));
}

/**
 * showControls shows the controls of a current task.
 * @param {HTMLElement | null} current
 * @param {number} lane
 */
function showControls(current, lane) {
  const end = LANES[lane], made = byID("made" + end, HTMLButtonElement), back = byID("back" + end, HTMLButtonElement), last = lastMarked(lane);
  byID("bar" + end).hidden = lane > 0 && !current;
  made.disabled = !current;
  made.hidden = !!current && "look" in current.dataset; // its answer is among what it shows
  made.textContent = current ? data(current).done : say("nothing_due");
  if (skipping && !lanes.includes(skipping)) skipping = null; // another task has come forward
  byID("skip" + end, HTMLButtonElement).disabled = !current;
  byID("ask-skip" + end).hidden = skipping === null || skipping !== current?.dataset.id;
  if (current) byID("skip-what" + end).textContent = say("why_skip", { what: data(current).short });
  back.disabled = !last;
  back.textContent = last ? say("undo_what", { what: data(last).short }) : say("undo");
  question.show();
}

function showClock() {
  const silent = Date.now() - currentAt, waiting = outbox.items.length, age = byID("age");
  age.hidden = silent < OLD && !waiting;
  age.textContent = [silent >= OLD ? say("silent", { span: span(silent) }) : "", waiting ? say("waiting", { n: waiting }) : ""].filter(Boolean).join(" ");
  // The site may be in another time zone than this screen: the server's time of day is moved on by the minutes since.
  const { now: sent, minutes } = boardData();
  const minute = (Number(minutes) + Math.floor((now() - Number(sent) + (Number(sent) % MINUTE)) / MINUTE)) % 1440;
  const hour = Math.floor(minute / 60), rest = ":" + String(minute % 60).padStart(2, "0");
  byID("clock").textContent = "halfDays" in boardData() ? (hour % 12 || 12) + rest + "\u202f" + say(hour < 12 ? "am" : "pm") : String(hour).padStart(2, "0") + rest;
  for (const strip of all(board, ".slim", SVGSVGElement)) {
    const from = Number(strip.dataset.from), to = Number(strip.dataset.to), line = one(strip, ".now", SVGElement);
    const x = String(Math.max(0, Math.min(1, (now() - from) / (to - from))) * strip.viewBox.baseVal.width);
    line.setAttribute("x1", x);
    line.setAttribute("x2", x);
  }
}

/** @type {Set<string> | null} tasks due and warnings to act on now when this was looked at last */
let known = null;

// soundAlerts sounds for what has become due or urgent since the last look, never for what the screen began with.
function soundAlerts() {
  const before = known;
  const due = tasks().filter((task) => isMine(task) && dueAt(task) <= now());
  const urgent = all(board, ".warn.act_now").map((warning) => data(warning).warning);
  known = new Set([...due.map((task) => data(task).id), ...urgent]);
  if (!sounds || !before) return;
  if (urgent.some((id) => !before.has(id))) chime(ACT_NOW);
  else if (due.some((task) => isOpen(task) && !before.has(data(task).id))) chime(DUE);
}

// Fetching the board

const CLOCK = /data-(now|minutes)="\d+"|<time id="clock">.*?<\/time>/g;
let shownBoard = ""; // the last board as it came, without its clock
let fetching = false, fetchAgain = false;

// refresh fetches the board; where nothing has changed nothing moves on the screen.
async function refresh() {
  if (fetching) {
    fetchAgain = true;
    return;
  }
  fetching = true;
  try {
    const answer = await fetch(location.pathname + "?part=board", { redirect: "manual", signal: AbortSignal.timeout(TIMEOUT) });
    if (answer.type === "opaqueredirect" || answer.status === 401) signedOut();
    else if (answer.ok) receive(await answer.text());
  } catch { /* the screen shows how old its board is */ }
  fetching = false;
  show();
  reloadIfUpgraded();
  if (fetchAgain) {
    fetchAgain = false;
    refresh();
  }
}

/** @param {string} html of the board */
function receive(html) {
  currentAt = fetchedAt = Date.now();
  maybeOutdated = fetchAgain;
  setClock(Number(/data-now="(\d+)"/.exec(html)?.[1]), Number(/data-pace="([^"]+)"/.exec(html)?.[1]), currentAt); // this device's clock may have been set
  const content = html.replace(CLOCK, "");
  if (content !== shownBoard) replaceBoard(html);
  shownBoard = content;
  keepOffline(html, fetchedAt);
  outbox.flush();
  countOutbox.flush();
}

/** @param {string} html */
function replaceBoard(html) {
  const focused = document.activeElement?.id;
  const open = all(board, "details[open]").map((details) => details.id);
  const counting = open.includes("count") ? iceInHand : NaN;
  const scrolled = all(board, ".step:not([hidden]), .next").map((e) => e.scrollTop);
  board.innerHTML = html;
  adoptBoard(currentAt);
  for (const id of open) {
    const details = maybe(id, HTMLDetailsElement);
    if (details) details.open = true;
  }
  iceInHand = counting;
  show();
  all(board, ".step:not([hidden]), .next").forEach((e, i) => { e.scrollTop = scrolled[i] ?? 0; });
  if (focused) maybe(focused)?.focus();
}

/** @param {number} cameAt when the board came, by this device's clock */
function adoptBoard(cameAt) {
  setClock(Number(boardData().now), Number(boardData().pace), cameAt);
  if (boardData().csrf) renewCSRF(boardData().csrf);
}

const isBusy = () => question.open || outbox.items.length || countOutbox.items.length || outbox.sending || !byID("age").hidden || all(document, "details[open]").length > 0 || skipping !== null;

// reloadIfUpgraded loads the page again once the service has become a newer program and nobody is in the middle of something.
function reloadIfUpgraded() {
  if (boardData().program === pageData.program || isBusy() || Date.now() - (reloadedAt.value ?? 0) < RELOAD_AT_MOST_EVERY) return;
  reloadedAt.value = Date.now();
  location.reload();
}

// Touches

const touchedAt = LANES.map(() => -SLIP); // of the main button of each lane

board.addEventListener("click", (event) => {
  const button = clicked(event);
  if (!button) return;
  const { pick, ack, reason: why, add, stronger, behind, undo, left, down, works, mistake, undoDelay, close, off, sell } = button.dataset;
  const lane = Math.max(0, LANES.findIndex((end) => end && button.id.endsWith(end)));
  if (!button.id.startsWith("made") && left === undefined) touchedAt.fill(-SLIP);
  const line = /** @type {HTMLElement | null} */ (button.closest("#next li, #others li"));
  if (line) bringForward(data(line).for);
  else if (button.closest("#ice-entry, #ice-kept")) pressIce(button);
  else if (pick !== undefined) pickStation(pick);
  else if (ack) acknowledge(button);
  else if (behind) delay(button, Number(behind));
  else if (undoDelay) report(button, "DELETE", "/prep-sheets/" + data(button).date + "/delay?" + new URLSearchParams({ key: undoDelay }));
  else if (down) report(button, "POST", "/outages/now", { kind: down, code: data(button).code });
  else if (works) report(button, "DELETE", "/outages/now?" + new URLSearchParams({ kind: works, code: data(button).code }));
  else if (mistake) report(button, "DELETE", "/outages/now?" + new URLSearchParams({ kind: mistake, code: data(button).code, mistake: "true" }));
  else if (off) report(button, "POST", "/off-sale", { rows: [{ drink: off, from: laterOf(data(button).from, now()), to: null }] });
  else if (sell) putOnSale(button, sell);
  else if (close) byID(close, HTMLDetailsElement).open = false;
  else if (left !== undefined) answerLook(button, Number(left), event.timeStamp);
  else if (undo) {
    sendMark(undo, "due");
    byID("marked", HTMLDetailsElement).open = false;
  }
  else if (why !== undefined) {
    const task = skipping && taskByID(skipping);
    skipping = null;
    if (why && task) mark(task, "skipped", { reason: why });
    else show();
  } else if (add) question.addWeight(Number(add));
  else if (stronger) question.addStrength(Number(stronger));
  else press(button.id.replace(/-2$/, ""), lane, event.timeStamp);
});

/**
 * done marks a task as made; the first of several steps as started. A step in the middle needs no mark.
 * @param {HTMLElement} task
 */
function done(task) {
  if ("step1" in task.dataset) mark(task, "started");
  else if (data(task).until && data(task).line !== data(task).id) {
    passed.add(data(task).id);
    show();
  } else mark(task, "made");
}

/**
 * answerLook says what is left of a beverage; the sheet then says what to brew.
 * @param {HTMLElement} button
 * @param {number} leftG
 * @param {number} at of the event, ms
 */
function answerLook(button, leftG, at) {
  const task = /** @type {HTMLElement} */ (button.closest("article.step"));
  const lane = Math.max(0, lanes.indexOf(data(task).id));
  if (at - touchedAt[lane] >= SLIP) mark(task, "made", { left_g: leftG });
  touchedAt[lane] = at;
}

/**
 * press does what a control of a bar or of this screen is for.
 * @param {string} id of the control, that of the first lane
 * @param {number} lane
 * @param {number} at of the event, ms
 */
function press(id, lane, at) {
  const current = currentTasks()[lane];
  switch (id) {
    case "made":
      if (current && at - touchedAt[lane] >= SLIP) done(current);
      touchedAt[lane] = at;
      break;
    case "back": {
      const last = lastMarked(lane);
      if (last) mark(last, "due");
      break;
    }
    case "skip":
      question.answer();
      skipping = !current || skipping === data(current).id ? null : data(current).id;
      show();
      break;
    case "measured":
      question.askStrength();
      if (question.open) one(board, "[data-stronger]").focus();
      break;
    case "keep":
      question.answer();
      byID("main").focus();
      break;
    case "sound":
      sounds = !sounds;
      ownSound.value = sounds;
      if (sounds) allowSound().then(() => chime(DUE));
      show();
      break;
  }
}

const wakeSound = () => { if (sounds) allowSound(); };
addEventListener("pointerdown", wakeSound);
addEventListener("keydown", wakeSound);

/** @param {string} id of a task */
function bringForward(id) {
  selected = id;
  show();
  byID("main").focus();
  const task = taskByID(id);
  if (task) task.scrollTop = 0;
}

/** @param {string} station whose tasks are shown or folded away; "" for all stations */
function pickStation(station) {
  const shown = stations();
  pickedStations = !station ? [] : shown.includes(station) ? shown.filter((name) => name !== station) : [...shown, station];
  ownStations.value = pickedStations;
  selected = null;
  show();
}

/** @param {HTMLButtonElement} button of a warning that somebody has read; it stays open until its cause is gone */
async function acknowledge(button) {
  button.disabled = true;
  try {
    await request("POST", siteURL + "/warnings/" + encodeURIComponent(data(button).ack) + "/ack", { signal: AbortSignal.timeout(TIMEOUT) }).catch(unlessGone);
    showTrouble("");
    refresh();
  } catch (error) {
    if (error instanceof Refusal && error.signedOut) {
      signedOut();
      return;
    }
    button.disabled = false;
    showTrouble(say("not_seen", { why: reason(error) }));
  }
}

/**
 * delay moves the rest of today's sheets.
 * @param {HTMLButtonElement} button
 * @param {number} minutes
 */
async function delay(button, minutes) {
  const { dates } = data(/** @type {HTMLElement} */ (button.parentElement)), key = newKey();
  for (const date of dates.split(" ").filter(Boolean)) await report(button, "POST", "/prep-sheets/" + date + "/delay", { minutes, key });
}

/**
 * report sends what somebody has seen, and shows what follows from it.
 * @param {HTMLButtonElement} button whose fold closes once it is stored
 * @param {string} method
 * @param {string} path below the site's
 * @param {unknown} [json]
 */
async function report(button, method, path, json) {
  button.disabled = true;
  try {
    await request(method, siteURL + path, { ...(json ? { json } : {}), signal: AbortSignal.timeout(TIMEOUT) }).catch((error) => {
      if (method !== "DELETE") throw error;
      unlessGone(error);
    });
    showTrouble("");
    const fold = button.closest("details");
    if (fold) fold.open = false;
    refresh();
  } catch (error) {
    if (error instanceof Refusal && error.signedOut) signedOut();
    else showTrouble(say("not_done", { why: reason(error) }));
  }
  button.disabled = false;
}

/**
 * @param {string} from RFC 3339
 * @param {number} least ms
 */
const laterOf = (from, least) => new Date(Math.max(Date.parse(from), least)).toISOString();

/**
 * putOnSale ends the time in which a drink is off sale, or drops one that has not begun.
 * @param {HTMLButtonElement} button
 * @param {string} drink
 */
function putOnSale(button, drink) {
  const { from } = data(button), now = Number(boardData().now); // not this device's clock, which may be ahead: the drink is on sale at once
  if (Date.parse(from) >= now) report(button, "DELETE", "/off-sale?" + new URLSearchParams({ drink, from }));
  else report(button, "POST", "/off-sale", { rows: [{ drink, from, to: new Date(now).toISOString() }] });
}

/** @param {string} typed a number @returns {number} NaN where it is none */
const typedNumber = (typed) => (typed.trim() ? Number(typed.trim().replace(",", ".")) : NaN);

/**
 * correct replaces what was marked by what the form says.
 * @param {HTMLFormElement} form
 */
function correct(form) {
  const { task, state, clock, markedAt } = data(form);
  const field = (/** @type {string} */ name) => /** @type {HTMLInputElement | null} */ (form.elements.namedItem(name));
  const minutes = (/** @type {string} */ text) => {
    const [, hour, minute] = /^(\d{1,2})[:.](\d{2})$/.exec(text.trim()) ?? [];
    return Number(hour) < 24 && Number(minute) < 60 ? Number(hour) * 60 + Number(minute) : NaN;
  };
  const at = Number(markedAt) + (minutes(field("at")?.value ?? "") - minutes(clock)) * MINUTE;
  const mass = field("mass"), grams = mass ? typedNumber(mass.value) * Number(boardData().grams) : NaN, tds = typedNumber(field("tds")?.value ?? "");
  const seen = field("left"), left = seen ? typedNumber(seen.value) * Number(boardData().grams) : NaN; // of a look
  if (!Number.isFinite(at) || (mass && !(grams >= 0 && grams < 1e6)) || (seen && !(left >= 0 && left < 1e6))) {
    showTrouble(say("no_correction"));
    return;
  }
  const weighed = mass && mass.value === data(mass).was ? data(mass).g && Number(data(mass).g) : grams; // unchanged: as it was marked, if it was
  const amounts = { ...(mass && weighed !== "" ? { beverage_g: Number(weighed) } : {}), ...(tds >= 0 ? { tds_pct: tds } : {}), ...(seen ? { left_g: left } : {}) };
  outbox.add(newMark(task, state, { at: new Date(at).toISOString(), corrects: true, ...amounts }));
  byID("marked", HTMLDetailsElement).open = false;
  showTrouble("");
}

/** @param {unknown} error thrown again unless it says that there is no such thing any more */
function unlessGone(error) {
  if (!(error instanceof Refusal && error.status === 404)) throw error;
}

board.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.classList.contains("correct")) return;
  event.preventDefault();
  correct(form);
});

// Counting ice

let iceInHand = NaN; // g
/** @type {import("./counts.js").LastCount | null} the count made on this screen, until the board has it */
let iceFound = null;
const entries = amounts({ pounds, gallons: "gallons" in pageData });

const countOutbox = countsOutbox({
  accepted: () => {
    if (iceFound) iceFound.waiting = false;
    refresh();
  },
  refused: (refusal) => {
    iceFound = null;
    showTrouble(say("count_refused", { why: reason(refusal) }));
  },
  signedOut,
  unreachable: () => {},
  settled: () => show(),
});

// lastIce is today's latest count of ice: this screen's or the board's.
function lastIce() {
  const known = knownCount(byID("ice-entry"));
  if (known && iceFound && known.at >= iceFound.at) iceFound = null;
  return iceFound ?? known;
}

function showIce() {
  const entry = byID("ice-entry"), save = byID("save-ice", HTMLButtonElement), last = lastIce();
  entries.press(entry, iceInHand);
  save.disabled = Number.isNaN(iceInHand);
  const level = entries.level(entry, iceInHand);
  save.textContent = Number.isNaN(iceInHand) ? say("save") : say("save_amount", { amount: (level ? level + ", " : "") + entries.text(entry, iceInHand) });
  const isFresh = last && now() - Date.parse(last.at) < FOUND_FRESH;
  byID("ice-kept").hidden = !isFresh;
  if (!last || !isFresh) return;
  const off = entries.difference(entry, last.x, last.expected);
  byID("ice-found").textContent = [say("found_at", { amount: entries.text(entry, last.x), when: last.clock }), off, last.waiting && countOutbox.items.length ? say("count_waiting") : ""].filter(Boolean).join(", ");
}

/** @param {HTMLButtonElement} button of the count of ice */
function pressIce(button) {
  const entry = byID("ice-entry"), last = lastIce();
  if (button.id === "save-ice") {
    const at = new Date(now()).toISOString();
    iceFound = { x: iceInHand, at, clock: byID("clock").textContent ?? "", expected: Number(data(entry).expected), waiting: true };
    countOutbox.add({ counted_at: at, ice_g: iceInHand });
    iceInHand = NaN;
    byID("count", HTMLDetailsElement).open = false;
  } else if (button.id === "undo-ice" && last) {
    iceFound = null;
    delete entry.dataset.found;
    countOutbox.add({ undo: { counted_at: last.at, kind: "ice", code: "" } });
  } else iceInHand = entries.change(entry, button, iceInHand) ?? iceInHand;
  show();
}

// Live events: a mark is shown at once; the board follows, and not from all screens at the same moment.

const connection = new Connection(hear, () => {
  maybeOutdated = true;
  refresh();
});

let refreshTimer = 0;

/** @param {number} wait ms */
function refreshIn(wait) {
  clearTimeout(refreshTimer);
  refreshTimer = setTimeout(refresh, wait);
}

/** @param {MessageEvent} event */
function hear(event) {
  if (event.type === "beat") {
    if (!maybeOutdated) currentAt = Date.now();
    return;
  }
  maybeOutdated = true;
  if (event.type !== "mark") {
    refreshIn(40 + 200 * Math.random());
    return;
  }
  const { task, state } = eventData(event), shown = taskByID(task);
  if (shown && state) {
    showState(task, state);
    show();
  }
  refreshIn(shown ? 300 + 1500 * Math.random() : 40);
}

let wallTime = Date.now(), steadyTime = performance.now();

// look moves the clock on, and notices a dead connection, that the device was asleep, and that its clock was set.
function look() {
  const jump = (Date.now() - wallTime) - (performance.now() - steadyTime); // ms, of the clock
  wallTime = Date.now();
  steadyTime = performance.now();
  if (Math.abs(jump) > 5000) {
    if (jump < 0) { // set back: nobody sleeps backwards
      currentAt += jump;
      fetchedAt += jump;
      deviceClockWasSet(jump);
    }
    connection.open();
    refresh();
  }
  connection.reopenIfDead();
  if (Date.now() - fetchedAt >= (connection.alive && currentAt > fetchedAt ? REFRESH_WITH_BEATS : REFRESH)) refresh();
  show();
}

const keptSince = Number(pageData.kept) || 0; // when a board that was kept on this device came; 0 for one from the service
currentAt = fetchedAt = keptSince || Date.now();
adoptBoard(currentAt);
const firstBoard = board.innerHTML;
show();
connection.open();
outbox.flush();
countOutbox.flush();
if (keptSince) refresh();
else keepOffline(firstBoard, fetchedAt);
addEventListener("online", () => {
  connection.open();
  refresh();
  outbox.flush();
  countOutbox.flush();
});
addEventListener("pageshow", (event) => {
  if (!event.persisted) return;
  connection.open();
  refresh();
});
addEventListener("pagehide", () => question.answer());
document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
setInterval(look, LOOK);
document.addEventListener("clockset", show);
