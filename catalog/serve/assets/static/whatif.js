// Answers while a slider moves: by the program in the page if it is loaded, else by the server.
"use strict";
(() => {
  const form = document.getElementById("whatif"), units = form.dataset.units;
  const id = name => document.getElementById(name);
  const descent = form.dataset.descent, at = descent ? "/whatif?descent=" + encodeURIComponent(descent) : "/whatif";
  let ask = async question => (await fetch(at, {method: "POST", headers: {"Content-Type": "application/json"}, body: question})).json();
  function typed() {
    const t = {};
    for (const f of ["class", "grade", "length", "mass", "retarder", "temperature", "altitude", "classes_toml"]) {
      const field = form.elements.namedItem(f);
      if (field) t[f] = field.value;
    }
    if (descent) t.own_line = true;
    return JSON.stringify({typed: t});
  }
  function show(a) {
    id("trouble").textContent = a.error || "";
    id("answer").hidden = !!a.error;
    if (a.error) return;
    const w = a.shown[units];
    id("answer-words").className = "answer " + a.shown.code;
    id("answer-words").textContent = (form.dataset.question ? "IN QUESTION, " : "") + w.answer;
    id("answer-why").textContent = w.why;
    id("answer-lines").replaceChildren(...w.lines.map(l => {
      const div = document.createElement("div"), dt = document.createElement("dt"), dd = document.createElement("dd");
      dt.textContent = l.label;
      dd.textContent = l.text;
      div.append(dt, dd);
      return div;
    }));
    id("answer-notes").replaceChildren(...w.notes.map(n => {
      const li = document.createElement("li");
      li.textContent = n;
      return li;
    }));
  }
  let last = 0;
  async function update() {
    const mine = ++last;
    for (const li of document.querySelectorAll("#stored li")) li.hidden = li.dataset.class !== form.elements.namedItem("class").value;
    let a;
    try { a = await ask(typed()); } catch (e) { a = {error: "no answer now: " + e.message}; }
    if (mine === last) show(a);
  }
  for (const range of form.querySelectorAll("input[type=range]")) {
    const field = form.elements.namedItem(range.dataset.for), given = parseFloat(field.value);
    if (!isNaN(given) && field.value.trim().endsWith(range.dataset.unit)) range.value = given;
    range.hidden = false;
    range.addEventListener("input", () => { field.value = range.value + range.dataset.unit; update(); });
  }
  form.querySelector(".own").hidden = false;
  form.addEventListener("input", ev => { if (ev.target.type !== "range") update(); });
  form.addEventListener("submit", ev => {
    ev.preventDefault();
    const v = new URLSearchParams();
    for (const [name, value] of new FormData(form)) if (value && name !== "classes_toml") v.set(name, value);
    history.replaceState(null, "", "/whatif?" + v);
    update();
  });
  if (form.dataset.local && window.Go) {
    const go = new Go();
    const line = descent ? fetch(form.dataset.line).then(r => r.ok ? r.text() : Promise.reject(r.status)) : "";
    Promise.all([WebAssembly.instantiateStreaming(fetch("/static/whatif.wasm"), go.importObject), line]).then(([{instance}, hill]) => {
      go.run(instance);
      if (!window.gradelineWhatIf || descent && (!window.gradelineHill || window.gradelineHill(hill))) return; // the server answers
      ask = async question => JSON.parse(window.gradelineWhatIf(question));
      form.dataset.ready = "1";
    }, () => {});
  }
})();
