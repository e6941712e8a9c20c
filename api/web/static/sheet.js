// A prep sheet on a screen: tasks are ticked there and amounts written down, as on paper. A mark that can't be sent waits on this device,
// in the same outbox as those of Kitchen; marks made elsewhere appear by themselves.
import { setClock } from "./clock.js";
import { listen } from "./live.js";
import { marksOutbox, newMark } from "./marks.js";
import { byID, one, pageData, say } from "./page.js";
import { quantity } from "./quantity.js";

const unit = "pounds" in pageData ? "oz" : "g";
const { readMass } = quantity({ pounds: "pounds" in pageData });
setClock(Number(pageData.now), Number(pageData.pace));

const said = byID("said");
const rowOf = (/** @type {string} */ task) => document.getElementById(task);

const outbox = marksOutbox({
  accepted: ({ task, body }, answer) => { show(task, answer?.state || body.state); said.textContent = ""; },
  refused: () => { said.textContent = say("not_saved"); },
  signedOut: () => { said.textContent = say("signed_out"); },
  unreachable: () => { said.textContent = say("waiting", { n: outbox.items.length }); },
  settled: () => {},
});

/**
 * show shows the state of a task in its row.
 * @param {string} task
 * @param {string} state
 */
function show(task, state) {
  const row = rowOf(task);
  const box = row?.querySelector("input[type=checkbox]");
  if (!row || !(box instanceof HTMLInputElement)) return;
  box.checked = state === "made";
  row.classList.toggle("over", state === "made" || state === "skipped");
  one(row, ".mark").textContent = state === "due" ? "" : say("state." + state);
}

/**
 * mark keeps a mark and sends it.
 * @param {string} task
 * @param {string} state
 * @param {number} [grams] of finished beverage
 */
function mark(task, state, grams) {
  show(task, state);
  outbox.add(newMark(task, state, grams === undefined ? {} : { beverage_g: grams }));
}

document.addEventListener("change", (event) => {
  const input = event.target;
  const row = input instanceof HTMLInputElement ? input.closest("tr") : null;
  if (!row || !(input instanceof HTMLInputElement)) return;
  if (input.type === "checkbox") {
    mark(row.id, input.checked ? "made" : "due");
    return;
  }
  const grams = readMass(input.value, unit);
  input.toggleAttribute("aria-invalid", Number.isNaN(grams));
  if (Number.isNaN(grams)) said.textContent = say("no_weight", { typed: input.value, unit });
  else mark(row.id, "made", grams);
});

listen({ mark: (event) => { if (event.task && !outbox.items.some((item) => item.task === event.task)) show(event.task, event.state); } });
for (const { task, body } of outbox.items) show(task, body.state);
outbox.flush();
