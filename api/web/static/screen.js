// A new wall screen: asks for a code, shows it, and asks every two seconds whether a manager has entered it. Then the browser holds the
// screen's session and the Kitchen page takes over. The secret of the pairing stays in this page: loading it again shows another code.
import { Refusal, byID, request, say } from "./page.js";

/** @typedef {{ id: string, code: string, secret: string }} Pairing */

const POLL_MS = 2000;
const code = byID("code"), trouble = byID("trouble");

/** @param {() => void} step to try again, later than usual since the service is away or asks for patience */
function retry(step) {
  trouble.hidden = false;
  trouble.textContent = say("away");
  setTimeout(step, 5 * POLL_MS);
}

async function begin() {
  /** @type {Pairing} */
  let pairing;
  try {
    pairing = await request("POST", "/v1/screen-pairings", { json: {} });
  } catch {
    retry(begin);
    return;
  }
  trouble.hidden = true;
  code.textContent = pairing.code.slice(0, 3) + "\u00a0" + pairing.code.slice(3);
  setTimeout(poll, POLL_MS, pairing);
}

/** @param {Pairing} pairing */
async function poll(pairing) {
  let claim;
  try {
    claim = await request("POST", "/v1/screen-pairings/" + encodeURIComponent(pairing.id) + "/claim", { json: { secret: pairing.secret, right: "session" } });
  } catch (error) {
    if (error instanceof Refusal && error.status === 404) begin(); // the code has expired
    else retry(() => poll(pairing));
    return;
  }
  trouble.hidden = true;
  if (claim.state === "paired") location.replace("/s/" + encodeURIComponent(claim.screen.site) + "/kitchen");
  else setTimeout(poll, POLL_MS, pairing);
}

begin();
