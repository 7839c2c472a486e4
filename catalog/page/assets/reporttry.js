// Tries other trucks offline: the program and the grade lines are in this file.
"use strict";
(() => {
  const id = name => document.getElementById(name), form = id("try-form"), units = form.dataset.units;
  const field = name => form.elements.namedItem(name);
  async function unpacked(name) {
    const packed = Uint8Array.from(atob(id(name).textContent.trim().replace(/-/g, "+").replace(/_/g, "/")), c => c.charCodeAt(0));
    return new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer();
  }
  let lines = null, loaded = "";
  function show(trouble, a) {
    id("try-trouble").textContent = trouble;
    id("try-answer").hidden = !!trouble;
    if (trouble) return;
    const w = a.shown[units], isAsked = form.querySelector("option[data-question]:checked");
    id("try-words").className = a.shown.code;
    id("try-words").textContent = (isAsked ? "IN QUESTION, " : "") + w.answer;
    id("try-why").textContent = w.why;
    id("try-lines").replaceChildren(...w.lines.map(l => {
      const row = document.createElement("tr"), th = document.createElement("th"), td = document.createElement("td");
      th.scope = "row";
      th.textContent = l.label;
      td.textContent = l.text;
      row.append(th, td);
      return row;
    }));
  }
  function answer() {
    const hill = field("hill").value, typed = {own_line: hill !== ""};
    for (const f of ["class", "mass", "retarder", "temperature"]) typed[f] = field(f).value;
    for (const f of ["grade", "length"]) {
      field(f).closest("label").hidden = typed.own_line;
      if (!typed.own_line) typed[f] = field(f).value;
    }
    if (typed.own_line && loaded !== hill) {
      if (!lines[hill]) return show("unknown: this report has no grade line of that descent");
      const fault = gradelineHill(JSON.stringify(lines[hill]));
      if (fault) return show(fault);
      loaded = hill;
    }
    const a = JSON.parse(gradelineWhatIf(JSON.stringify({typed})));
    show(a.error || "", a);
  }
  id("try-begin").addEventListener("click", async () => {
    try {
      const go = new Go(), [program, list] = await Promise.all([unpacked("try-program"), unpacked("try-hills")]);
      lines = JSON.parse(new TextDecoder().decode(list));
      const {instance} = await WebAssembly.instantiate(program, go.importObject);
      go.run(instance);
      if (typeof gradelineWhatIf !== "function") throw new Error("the program does not start");
    } catch (e) {
      return show("This browser cannot run the program in this file: " + e.message);
    }
    id("try-begin").hidden = true;
    form.hidden = false;
    form.addEventListener("input", answer);
    form.addEventListener("submit", ev => ev.preventDefault());
    answer();
    field("hill").focus();
  });
})();
