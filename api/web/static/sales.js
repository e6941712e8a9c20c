"use strict";
// Past sales from a file: what it holds is shown first, then all of it is brought in, or nothing.
(() => {
  const form = document.getElementById("sales");
  if (!form) return;
  const texts = JSON.parse(document.body.dataset.words);
  const words = (key, more) => texts[key].replace(/\{(\w+)\}/g, (all, name) => (more && name in more ? more[name] : all));
  const found = document.getElementById("found"), bring = document.getElementById("bring");
  const csrf = document.querySelector("meta[name=csrf]").content;
  const say = (...lines) => found.replaceChildren(...lines.map((text) => {
    const p = document.createElement("p");
    p.textContent = text;
    return p;
  }));

  async function send(preview) {
    const file = form.elements.file.files[0];
    const kind = file.name.toLowerCase().endsWith(".xlsx") ? "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet" : "text/csv";
    const query = new URLSearchParams({ source: form.elements.source.value.trim() });
    if (preview) query.set("preview", "true");
    let answer;
    try {
      answer = await fetch("/v1/sites/" + encodeURIComponent(document.body.dataset.site) + "/sales-files?" + query,
        { method: "POST", headers: { "X-CSRF-Token": csrf, "Content-Type": kind }, body: file });
    } catch {
      throw new Error(words("no_answer"));
    }
    const said = await answer.json().catch(() => ({}));
    if (!answer.ok) throw new Error([said.detail || said.title, ...(said.errors || []).map((e) => e.detail + (e.accepted ? " (" + e.accepted + ")" : ""))].filter(Boolean).join(". ") + ".");
    return said;
  }

  const day = (t) => (t ? t.slice(0, 10) : "");

  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    bring.hidden = true;
    say(words("reading"));
    try {
      const p = await send(true);
      const lines = [p.rows ? words("found", { rows: p.rows, items: p.items.length + p.items_left_out, from: day(p.from), to: day(p.to) }) : words("nothing"), ...p.notes];
      if (p.errors.length) {
        lines.push(words("wrong", { n: p.errors.length + p.errors_left_out }));
        for (const x of p.errors.slice(0, 20)) lines.push(words("row", { row: x.row, what: x.detail + (x.accepted ? " (" + x.accepted + ")" : "") }));
      }
      say(...lines);
      bring.hidden = !p.rows || p.errors.length > 0;
    } catch (err) { say(err.message); }
  });
  for (const input of form.elements) input.addEventListener("change", () => { bring.hidden = true; });
  bring.addEventListener("click", async () => {
    bring.disabled = true;
    try {
      const done = await send(false);
      say(words("brought", done));
      bring.hidden = true;
      setTimeout(() => location.reload(), 1500);
    } catch (err) { say(err.message); }
    bring.disabled = false;
  });
})();
