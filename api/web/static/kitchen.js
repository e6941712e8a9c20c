// The wall screen. The server sends the day's tasks; this script shows the current one and takes marks, keeps them while there is no
// network and sends each once (its key makes sending it twice harmless), and fetches the board again whenever something has happened.
// The last board is kept on this device too (kitchen-offline.js), for a screen that starts without a network.
import { deviceClockWasSet, now, setClock } from "./clock.js";
import { BatchQuestion } from "./batch-question.js";
import { ACT_NOW, DUE, allowSound, chime } from "./chime.js";
import { Connection } from "./connection.js";
import { forgetOffline, keepOffline } from "./kitchen-offline.js";
import { eventData } from "./live.js";
import { Outbox, newKey } from "./outbox.js";
import { Refusal, Stored, all, byID, clicked, data, maybe, one, pageData, reason, renewCSRF, request, say, site, siteURL } from "./page.js";
import { quantity } from "./quantity.js";

/**
 * @typedef {{ state: string, at: string, key: string, reason?: string, beverage_g?: number, left_g?: number, tds_pct?: number, corrects?: boolean }} Mark of a task
 * @typedef {{ task: string, body: Mark }} PendingMark
 */

const MINUTE = 60e3;
const SOON = 15 * MINUTE; // a task is shown for so long before it is due
const OVERDUE = 5 * MINUTE;
const OLD = 90e3; // a screen that has heard nothing for so long says so
const REFRESH = MINUTE, REFRESH_WITH_BEATS = 5 * MINUTE;
const LOOK = 5e3; // how often the clock moves
const SLIP = 700; // a second touch so soon is a slip of a wet hand
const RELOAD_AT_MOST_EVERY = 10 * MINUTE;
const TIMEOUT = 10e3;
const SHOWN_NEXT = 7, SHOWN_ELSEWHERE = 12;
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
/** @type {string[]} tasks that were marked on this screen, the last one last */
let marked = [];

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

/** @type {Outbox<PendingMark>} */
const outbox = new Outbox("hotday.marks." + site, {
  send: ({ task, body }) => request("POST", "/v1/tasks/" + encodeURIComponent(task) + "/marks", { json: body, signal: AbortSignal.timeout(TIMEOUT) }),
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

function currentTask() {
  const brought = selected && taskByID(selected);
  if (brought && isOpen(brought)) return brought;
  selected = null;
  return tasks().find((task) => isOpen(task) && isMine(task) && dueAt(task) <= now() + SOON) ?? null;
}

// lastMarked is the task that was marked last and can be undone: on this screen or, after a reload, on any.
function lastMarked() {
  const isMarked = (/** @type {HTMLElement | undefined} */ task) => task && (outbox.items.findLast((mark) => mark.task === task.dataset.id)?.body.state ?? data(task).state) !== "due";
  const here = marked.findLast((id) => isMarked(taskByID(id)));
  const task = taskByID(here ?? boardData().last);
  return task && isMarked(task) ? task : null;
}


/**
 * sendMark keeps a mark and sends it.
 * @param {string} task
 * @param {string} state
 * @param {Partial<Mark>} [more]
 */
function sendMark(task, state, more) {
  outbox.add({ task, body: { state, at: new Date(now()).toISOString(), key: newKey(), ...more } });
}

/**
 * mark marks a task, and asks what a batch came to.
 * @param {HTMLElement} task
 * @param {string} state
 * @param {Partial<Mark>} [more]
 */
function mark(task, state, more) {
  const id = lineOf(task);
  if (question.isAbout(id)) question.drop();
  else question.answer();
  marked = marked.filter((other) => other !== id);
  if (state !== "due") marked = [...marked.slice(1 - MARKS_REMEMBERED), id];
  selected = state === "due" ? id : null;
  skipping = null;
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
  const current = currentTask();
  for (const task of tasks()) {
    const late = task.dataset.until ? Math.min(now() - dueAt(task), 0) : now() - dueAt(task); // what needs no mark is never late
    task.hidden = task !== current;
    one(task, ".late").textContent = late > OVERDUE ? say("due_ago", { span: span(late) }) : late < -MINUTE ? say("due_in", { span: span(-late) }) : say("now");
    task.classList.toggle("overdue", late > OVERDUE);
  }
  byID("idle").hidden = !!current;
  const open = tasks().filter((task) => isOpen(task) && task !== current && (!("apart" in task.dataset) || dueAt(task) <= now() + SOON)), next = open.filter(isMine);
  const idle = maybe("idle-words");
  if (!current && idle && next.length) idle.textContent = say("next", { when: data(next[0]).clock, what: data(next[0]).short });
  showOnly("#next li", next.slice(0, SHOWN_NEXT));
  showElsewhere(open.filter((task) => !isMine(task)));
  for (const button of all(board, "[data-pick]")) {
    const { pick } = data(button);
    button.setAttribute("aria-pressed", String(pick ? stations().includes(pick) : !stations().length));
  }
  byID("sound").setAttribute("aria-pressed", String(sounds));
  if (mayMark) showControls(current);
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

/** @param {HTMLElement | null} current */
function showControls(current) {
  const made = byID("made", HTMLButtonElement), back = byID("back", HTMLButtonElement), last = lastMarked();
  made.disabled = !current;
  made.hidden = !!current && "look" in current.dataset; // its answer is among what it shows
  made.textContent = current ? data(current).done : say("nothing_due");
  if (skipping !== current?.dataset.id) skipping = null; // another task has come forward
  byID("skip", HTMLButtonElement).disabled = !current;
  byID("ask-skip").hidden = skipping === null;
  if (current) byID("skip-what").textContent = say("why_skip", { what: data(current).short });
  back.disabled = !last;
  back.textContent = last ? say("take_back_what", { what: data(last).short }) : say("take_back");
  question.show();
}

function showClock() {
  const silent = Date.now() - currentAt, waiting = outbox.items.length, age = byID("age");
  age.hidden = silent < OLD && !waiting;
  age.textContent = [silent >= OLD ? say("silent", { span: span(silent) }) : "", waiting ? say(waiting === 1 ? "waiting_one" : "waiting", { n: waiting }) : ""].filter(Boolean).join(" ");
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
}

/** @param {string} html */
function replaceBoard(html) {
  const focused = document.activeElement?.id;
  const open = all(board, "details[open]").map((details) => details.id);
  const typed = open.includes("count") ? countField().value : "";
  const scrolled = all(board, "#main, .next").map((e) => e.scrollTop);
  board.innerHTML = html;
  adoptBoard(currentAt);
  for (const id of open) {
    const details = maybe(id, HTMLDetailsElement);
    if (details) details.open = true;
  }
  if (typed) countField().value = typed;
  all(board, "#main, .next").forEach((e, i) => { e.scrollTop = scrolled[i]; });
  if (focused) maybe(focused)?.focus();
}

/** @param {number} cameAt when the board came, by this device's clock */
function adoptBoard(cameAt) {
  setClock(Number(boardData().now), Number(boardData().pace), cameAt);
  if (boardData().csrf) renewCSRF(boardData().csrf);
}

const isBusy = () => question.open || outbox.items.length || outbox.sending || !byID("age").hidden || all(document, "details[open]").length > 0 || skipping !== null;

// reloadIfUpgraded loads the page again once the service has become a newer program and nobody is in the middle of something.
function reloadIfUpgraded() {
  if (boardData().program === pageData.program || isBusy() || Date.now() - (reloadedAt.value ?? 0) < RELOAD_AT_MOST_EVERY) return;
  reloadedAt.value = Date.now();
  location.reload();
}

// Touches

let touchedAt = -SLIP; // of the main button

board.addEventListener("click", (event) => {
  const button = clicked(event);
  if (!button) return;
  const { pick, ack, reason, add, stronger, behind, undo, left } = button.dataset, current = currentTask();
  if (button.id !== "made" && button.dataset.left === undefined) touchedAt = -SLIP;
  const line = /** @type {HTMLElement | null} */ (button.closest("#next li, #others li"));
  if (line) bringForward(data(line).for);
  else if (pick !== undefined) pickStation(pick);
  else if (ack) acknowledge(button);
  else if (behind) delay(button, Number(behind));
  else if (left !== undefined) answerLook(button, Number(left), event.timeStamp);
  else if (undo) {
    sendMark(undo, "due");
    byID("marked", HTMLDetailsElement).open = false;
  }
  else if (reason !== undefined) {
    const task = skipping && taskByID(skipping);
    skipping = null;
    if (reason && task) mark(task, "skipped", { reason });
    else show();
  } else if (add) question.addWeight(Number(add));
  else if (stronger) question.addStrength(Number(stronger));
  else press(button.id, current, event.timeStamp);
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
  if (at - touchedAt >= SLIP) mark(task, "made", { left_g: leftG });
  touchedAt = at;
}

/**
 * press does what a control of the bar or of this screen is for.
 * @param {string} id of the control
 * @param {HTMLElement | null} current
 * @param {number} at of the event, ms
 */
function press(id, current, at) {
  switch (id) {
    case "made":
      if (current && at - touchedAt >= SLIP) done(current);
      touchedAt = at;
      break;
    case "back": {
      const last = lastMarked();
      if (last) mark(last, "due");
      break;
    }
    case "skip":
      question.answer();
      skipping = skipping || !current ? null : data(current).id;
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
  byID("main").scrollTop = 0;
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
    showTrouble(error instanceof Refusal ? say("not_seen", { why: error.message }) : say("no_answer"));
  }
}

/**
 * delay moves the rest of today's sheets.
 * @param {HTMLButtonElement} button
 * @param {number} minutes
 */
async function delay(button, minutes) {
  const { dates } = data(/** @type {HTMLElement} */ (button.parentElement)), key = newKey();
  button.disabled = true;
  try {
    for (const date of dates.split(" ").filter(Boolean)) {
      await request("POST", siteURL + "/prep-sheets/" + date + "/delay", { json: { minutes, key }, signal: AbortSignal.timeout(TIMEOUT) });
    }
    showTrouble("");
    byID("behind", HTMLDetailsElement).open = false;
    refresh();
  } catch (error) {
    showTrouble(say("not_moved", { why: reason(error) }));
  }
  button.disabled = false;
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
  const mass = field("mass"), grams = mass ? typedNumber(mass.value) * Number(data(countField()).grams) : NaN, tds = typedNumber(field("tds")?.value ?? "");
  const seen = field("left"), left = seen ? typedNumber(seen.value) * Number(data(countField()).grams) : NaN; // of a look
  if (!Number.isFinite(at) || (mass && !(grams >= 0 && grams < 1e6)) || (seen && !(left >= 0 && left < 1e6))) {
    showTrouble(say("no_correction"));
    return;
  }
  const weighed = mass && mass.value === data(mass).was ? data(mass).g && Number(data(mass).g) : grams; // unchanged: as it was marked, if it was
  const amounts = { ...(mass && weighed !== "" ? { beverage_g: Number(weighed) } : {}), ...(tds >= 0 ? { tds_pct: tds } : {}), ...(seen ? { left_g: left } : {}) };
  outbox.add({ task, body: { state, at: new Date(at).toISOString(), key: newKey(), corrects: true, ...amounts } });
  byID("marked", HTMLDetailsElement).open = false;
  showTrouble("");
}

/** @param {unknown} error thrown again unless it says that there is no such thing any more */
function unlessGone(error) {
  if (!(error instanceof Refusal && error.status === 404)) throw error;
}

const countField = () => /** @type {HTMLInputElement} */ (byID("count-form", HTMLFormElement).elements.namedItem("mass"));

board.addEventListener("submit", async (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  if (form.classList.contains("correct")) {
    event.preventDefault();
    correct(form);
    return;
  }
  if (form.id !== "count-form") return;
  event.preventDefault();
  const field = countField(), { grams, unit } = data(field);
  const massG = Number(field.value.trim().replace(",", ".")) * Number(grams);
  if (!(massG >= 0 && massG < 1e7)) {
    showTrouble(say("no_weight", { typed: field.value, unit }));
    return;
  }
  try {
    await request("POST", siteURL + "/stock-counts", { json: { counted_at: new Date(now()).toISOString(), ice_g: massG }, signal: AbortSignal.timeout(TIMEOUT) });
    showTrouble("");
    form.reset();
    byID("count", HTMLDetailsElement).open = false;
    refresh();
  } catch (error) {
    showTrouble(say("count_not_taken", { why: reason(error) }));
  }
});

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
if (keptSince) refresh();
else keepOffline(firstBoard, fetchedAt);
addEventListener("online", () => {
  connection.open();
  refresh();
  outbox.flush();
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
