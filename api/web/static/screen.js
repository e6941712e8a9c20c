"use strict";
// A new wall screen: asks for a code, shows it, and asks every two seconds whether a manager has typed it in. Then the browser
// holds the screen's session, and the Kitchen page takes over. The secret of the pairing is kept in this page only: a screen
// that loads it again shows another code.
(() => {
  const csrf = document.querySelector("meta[name=csrf]").content;
  const code = document.getElementById("code");
  const trouble = document.getElementById("trouble");
  const words = JSON.parse(document.body.dataset.words);
  const AGAIN = 2000;

  async function ask(path, body) {
    const headers = { "Content-Type": "application/json" };
    if (csrf) headers["X-CSRF-Token"] = csrf;
    const answer = await fetch(path, { method: "POST", headers, body: JSON.stringify(body) });
    if (answer.ok || answer.status === 404) return { status: answer.status, body: await answer.json() };
    throw new Error(String(answer.status));
  }

  // later tries a step again, at once where it can be and more slowly where the service is away or asks for patience.
  function later(step, pairing) {
    trouble.hidden = false;
    trouble.textContent = words.away;
    setTimeout(step, 5 * AGAIN, pairing);
  }

  async function begin() {
    let pairing;
    try { pairing = (await ask("/v1/screen-pairings", {})).body; } catch { later(begin); return; }
    trouble.hidden = true;
    code.textContent = pairing.code.slice(0, 3) + "\u00a0" + pairing.code.slice(3);
    setTimeout(look, AGAIN, pairing);
  }

  async function look(pairing) {
    let found;
    try {
      found = await ask("/v1/screen-pairings/" + encodeURIComponent(pairing.id) + "/claim", { secret: pairing.secret, right: "session" });
    } catch { later(look, pairing); return; }
    trouble.hidden = true;
    if (found.status === 404) begin();
    else if (found.body.state === "paired") location.replace("/s/" + encodeURIComponent(found.body.screen.site) + "/kitchen");
    else setTimeout(look, AGAIN, pairing);
  }

  begin();
})();
