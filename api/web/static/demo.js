// The demo's clock: it moves with the shop's, and leads to Review at the end of the day.
import { now, setClock } from "./clock.js";
import { byID, data, request } from "./page.js";

/** @typedef {{ now: number, pace: number, over: boolean }} DemoClock */

const ASK_MS = 2000, SHOW_MS = 500, MINUTE = 6e4;
const bar = byID("demo"), clock = byID("demo-clock"), { site, over } = data(bar), { zoneMinutes } = data(clock);
const weekday = clock.textContent?.replace(/\d.*/, "") ?? "";
const began = new Date(Number(data(clock).now) + Number(zoneMinutes) * MINUTE).getUTCDate();

function show() {
  const t = new Date(now() + Number(zoneMinutes) * MINUTE);
  if (t.getUTCDate() === began && !/[ap]m/i.test(clock.textContent ?? "")) clock.textContent = weekday + String(t.getUTCHours()).padStart(2, "0") + ":" + String(t.getUTCMinutes()).padStart(2, "0");
}

async function ask() {
  try {
    /** @type {DemoClock} */
    const answer = await request("GET", "/demo/clock");
    setClock(answer.now, answer.pace);
    document.dispatchEvent(new Event("clockset"));
    if (answer.over && over !== "true") location.assign("/s/" + site + "/review");
  } catch { /* the demo has ended */ }
}

setClock(Number(data(clock).now), Number(data(clock).pace));
setInterval(show, SHOW_MS);
setInterval(ask, ASK_MS);
