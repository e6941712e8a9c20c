"use strict";
// Set-up: what is typed is checked by the service while it is typed, and a new shop is asked for where it is. Without this script
// the same is checked when it is saved.
(() => {
  const zone = document.getElementById("timezone");
  if (zone && !zone.value) zone.value = Intl.DateTimeFormat().resolvedOptions().timeZone || "";
  const name = document.getElementById("name"), code = document.getElementById("code");
  if (name && code) {
    let own = code.value !== "";
    code.addEventListener("input", () => { own = code.value !== ""; });
    name.addEventListener("input", () => {
      if (!own) code.value = name.value.toLowerCase().normalize("NFD").replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "").slice(0, 40);
    });
  }

  const form = document.getElementById("fields");
  if (!form) return;
  const words = JSON.parse(document.body.dataset.words);
  const wrongs = document.getElementById("wrongs");
  const touched = new Set();
  for (const f of form.querySelectorAll("[aria-invalid]")) touched.add(f.name);
  let changed = false, asked = 0, timer = 0;

  const grown = form.dataset.grown && document.getElementById("f" + form.dataset.grown);
  if (grown) {
    grown.open = true;
    const first = grown.querySelector("input:not([type=hidden]), select");
    if (first) first.focus();
    changed = true;
  }

  form.addEventListener("input", () => { changed = true; });
  form.addEventListener("change", (e) => {
    if (e.target.name) touched.add(e.target.name);
    clearTimeout(timer);
    timer = setTimeout(check, 250);
  });
  form.addEventListener("submit", () => { changed = false; });
  addEventListener("beforeunload", (e) => { if (changed) e.preventDefault(); });

  async function check() {
    const turn = ++asked;
    let said;
    try {
      const answer = await fetch(form.action + "?check=1", { method: "POST", body: new URLSearchParams(new FormData(form)), signal: AbortSignal.timeout(10000) });
      if (!answer.ok) return;
      said = await answer.json();
    } catch { return; } // it is checked again when it is saved
    if (turn !== asked) return;
    show(said.errors || []);
  }

  // show puts each error at its field. What nobody has touched yet is not complained of: a new row is empty at first.
  function show(errors) {
    const at = new Map();
    let elsewhere = 0;
    for (const e of errors) {
      const field = form.elements[e.pointer];
      if (field && !touched.has(e.pointer)) continue;
      let pointer = e.pointer;
      while (pointer && !document.getElementById("w" + pointer)) pointer = pointer.slice(0, pointer.lastIndexOf("/"));
      if (!pointer) { elsewhere++; continue; }
      at.set(pointer, [...(at.get(pointer) || []), e.detail + (e.accepted ? " " + words.right.replace("{what}", e.accepted) : "")]);
    }
    for (const w of form.querySelectorAll(".amiss")) {
      const text = (at.get(w.dataset.for) || []).join(" ");
      if (w.textContent.trim() !== text) w.textContent = text;
      const field = document.getElementById("f" + w.dataset.for);
      if (field && field.matches("input, select")) {
        if (text) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
      }
    }
    wrongs.hidden = elsewhere === 0 && at.size === 0;
    if (wrongs.hidden) return;
    const list = wrongs.querySelector("ul");
    list.replaceChildren();
    for (const [pointer, texts] of at) {
      const li = document.createElement("li"), a = document.createElement("a"), field = document.getElementById("f" + pointer);
      const label = field && (field.labels && field.labels[0] || field.querySelector("legend, summary"));
      a.href = "#f" + pointer;
      a.textContent = label ? label.textContent.trim() : pointer;
      li.append(a, ": " + texts.join(" "));
      list.append(li);
    }
    for (const e of errors) {
      if (form.elements[e.pointer] || document.getElementById("w" + e.pointer)) continue;
      const li = document.createElement("li");
      li.textContent = e.detail;
      if (elsewhere) list.append(li);
    }
  }

  // A link to a field opens what it is folded into.
  wrongs.addEventListener("click", (e) => {
    const a = e.target.closest("a");
    if (!a) return;
    const field = document.getElementById(decodeURIComponent(a.hash.slice(1)));
    if (!field) return;
    e.preventDefault();
    for (let d = field.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
    field.focus();
    field.scrollIntoView({ block: "center" });
  });
})();
