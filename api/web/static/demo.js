// The demo's clock: it moves with the shop's, and leads to Review at the end of the day.
import { now, setClock } from "./clock.js";
import { byID, data, request } from "./page.js";

/** @typedef {{ now: number, pace: number, over: boolean }} DemoClock */

const ASK_MS = 2000, SHOW_MS = 500;
const bar = byID("demo"), clock = byID("demo-clock"), { site, over } = data(bar), { now: sent, pace, zone: timeZone } = data(clock);
const language = document.documentElement.lang;
const weekday = new Intl.DateTimeFormat(language, { weekday: "long", timeZone });
const timeOfDay = new Intl.DateTimeFormat(language, { hour: "2-digit", minute: "2-digit", hourCycle: "h23", timeZone });

const show = () => { clock.textContent = weekday.format(now()) + " " + timeOfDay.format(now()); };

async function ask() {
  try {
    /** @type {DemoClock} */
    const answer = await request("GET", "/demo/clock");
    setClock(answer.now, answer.pace);
    document.dispatchEvent(new Event("clockset"));
    if (answer.over && over !== "true") location.assign("/s/" + site + "/review");
  } catch { /* the demo has ended */ }
}

setClock(Number(sent), Number(pace));
setInterval(show, SHOW_MS);
setInterval(ask, ASK_MS);
