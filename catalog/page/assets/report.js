"use strict";
(() => {
  const $ = (q, in_) => (in_ || document).querySelector(q);
  const all = (q, in_) => [...(in_ || document).querySelectorAll(q)];
  const data = JSON.parse($("#data").textContent);
  document.documentElement.classList.add("script");

  // One cursor, shared by map, profile, slider and table of pieces.
  const map = $("#map"), mapDot = $("#map-cursor"), readout = $("#readout");
  const sections = all("section.one");
  const words = (d, k) => {
    const far = (Math.abs(d.distance_m[k]) / data.far_m).toFixed(2) + " " + data.far;
    const at = far + (d.distance_m[k] < 0 ? " before the crest" : " below the crest");
    const e = d.elevation_m[k] === null ? "elevation unknown" : Math.round(d.elevation_m[k] / data.high_m).toLocaleString("en") + " " + data.high;
    const p = d.downgrade_pct[k];
    const g = p === null ? "grade unknown" : p < 0 ? "climbs " + (-p).toFixed(1) + " %" : "downgrade " + p.toFixed(1) + " %";
    return at + ", " + e + ", " + g;
  };
  const box = svg => svg.viewBox.baseVal;
  let shown = -1;
  function cursor(i, k) {
    const d = data.entries[i], s = sections[i];
    if (!d || !s) return;
    k = Math.max(0, Math.min(d.x_share.length - 1, k));
    if (shown >= 0 && shown !== i) clear(shown);
    shown = i;
    $(".cursor", s).style.transform = "translateX(" + (d.x_share[k] * box($(".profile", s)).width + 9) + "px)";
    if (mapDot) {
      mapDot.setAttribute("cx", d.map_x_share[k] * box(map).width);
      mapDot.setAttribute("cy", d.map_y_share[k] * box(map).height);
    }
    const slider = $("input[type=range]", s);
    slider.value = k;
    slider.setAttribute("aria-valuetext", words(d, k));
    $("output", s).textContent = words(d, k);
    if (readout) readout.textContent = (i + 1) + ". " + words(d, k);
    all(".pieces tr.here", s).forEach(r => r.classList.remove("here"));
    const row = all(".pieces tbody tr", s)[d.piece[k]];
    if (row) row.classList.add("here");
    choose(i);
  }
  function clear(i) {
    const s = sections[i];
    $(".cursor", s).style.transform = "";
    $("output", s).textContent = "";
    all("tr.here", s).forEach(r => r.classList.remove("here"));
  }
  function choose(i) {
    all(".chosen").forEach(x => x.classList.remove("chosen"));
    all("#map .descent[data-i='" + i + "']").forEach(x => x.classList.add("chosen"));
  }
  const nearest = (xs, x) => xs.reduce((best, v, k) => Math.abs(v - x) < Math.abs(xs[best] - x) ? k : best, 0);
  const place = (svg, ev) => new DOMPoint(ev.clientX, ev.clientY).matrixTransform(svg.getScreenCTM().inverse());

  sections.forEach((s, i) => {
    const svg = $(".profile", s), slider = $("input[type=range]", s), d = data.entries[i];
    slider.max = d.x_share.length - 1;
    slider.addEventListener("input", () => cursor(i, +slider.value));
    for (const kind of ["pointermove", "pointerdown"]) {
      svg.addEventListener(kind, ev => cursor(i, nearest(d.x_share, place(svg, ev).x / box(svg).width)));
    }
    all(".pieces tbody tr", s).forEach((row, r) => row.addEventListener("pointerenter", () => cursor(i, d.piece.indexOf(r))));
  });
  all("#map .descent").forEach(g => {
    const i = +g.dataset.i, d = data.entries[i];
    g.addEventListener("pointermove", ev => {
      const p = place(map, ev);
      cursor(i, nearest(d.map_x_share.map((x, k) => Math.hypot(x * box(map).width - p.x, d.map_y_share[k] * box(map).height - p.y)), 0));
    });
    g.addEventListener("click", () => { const s = sections[i]; s.scrollIntoView(); s.focus({preventScroll: true}); });
  });

  // Sorting: a button in each header, the state in aria-sort; a list to choose from where a phone shows
  // no headers.
  const table = $("#descents"), rows = table ? all("tbody tr", table) : [];
  const value = (row, c) => row.cells[c].dataset.s;
  const heads = all("#descents thead th"), sorts = $("#f-sort");
  const areFigures = c => rows.every(r => value(r, c) !== "" && !isNaN(value(r, c)));
  function sortBy(c, up) {
    heads.forEach(x => x.removeAttribute("aria-sort"));
    heads[c].setAttribute("aria-sort", up ? "ascending" : "descending");
    const by = areFigures(c) ? (a, b) => value(a, c) - value(b, c) : (a, b) => value(a, c).localeCompare(value(b, c), "en", {numeric: true});
    $("tbody", table).append(...[...rows].sort((a, b) => up ? by(a, b) : by(b, a)));
    sorts.value = c + (up ? " up" : " down");
  }
  // The columns that are shown, the answer's among them.
  function listSorts() {
    const was = sorts.value;
    sorts.replaceChildren(...heads.flatMap((th, c) => th.hidden ? [] : [true, false].map(up => {
      const o = document.createElement("option");
      o.value = c + (up ? " up" : " down");
      const words = !areFigures(c) ? ["A to Z", "Z to A"] : th.dataset.all === "" ? ["safest first", "most dangerous first"] : ["smallest first", "largest first"];
      o.textContent = th.textContent + ": " + words[up ? 0 : 1];
      return o;
    })));
    sorts.value = was;
    if (sorts.selectedIndex < 0) sorts.selectedIndex = 0;
  }
  heads.forEach((th, c) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = th.textContent;
    th.dataset.head = th.textContent; // printed in place of the button
    th.replaceChildren(button);
    button.addEventListener("click", () => {
      sortBy(c, th.getAttribute("aria-sort") !== "ascending");
    });
  });
  if (sorts) sorts.addEventListener("change", () => {
    const [c, way] = sorts.value.split(" ");
    sortBy(+c, way === "up");
  });

  // Filters, and what the map says for the class chosen.
  const form = $("#filters");
  function filter() {
    const c = $("#f-class").value, mean = +$("#f-mean").value || 0, review = $("#f-review").value, text = $("#f-text").value.trim().toLowerCase();
    const answers = all("input[name=answer]:checked").map(x => x.value);
    let n = 0;
    const named = $("#map-class");
    if (named) named.textContent = c ? ": " + $("#f-class").selectedOptions[0].textContent : ": the worst answer of all classes";
    all(".holds [data-c]").forEach(x => { x.hidden = c !== "" && x.dataset.c !== c; });
    all("#descents [data-c]").forEach(x => { x.hidden = x.dataset.c !== c; });
    all("#descents [data-all]").forEach(x => { x.hidden = c !== ""; });
    listSorts();
    all("tr.words").forEach(x => { x.hidden = x.previousElementSibling.hidden; });
    for (const row of rows) {
      const cell = c && $("td[data-c='" + c + "']", row), answer = cell ? cell.dataset.a : row.dataset.worst;
      const on = answers.includes(answer) && +row.dataset.mean >= mean && (!review || row.dataset.review === review) && row.dataset.text.includes(text);
      const i = row.dataset.i;
      row.hidden = !on;
      sections[i].hidden = !on;
      all("#map g[data-i='" + i + "']").forEach(g => { g.style.display = on ? "" : "none"; });
      const line = $("#map .descent[data-i='" + i + "'] .line");
      if (line) line.setAttribute("class", "line " + answer);
      n += on;
    }
    $("#count").textContent = n + " of " + rows.length + " descents shown";
  }
  if (form) {
    form.addEventListener("input", ev => { if (ev.target !== sorts) filter(); });
    form.addEventListener("submit", ev => ev.preventDefault());
    filter();
  }

  // Keys: up and down between the descents of the list, Escape puts the cursor away.
  if (table) table.addEventListener("keydown", ev => {
    const step = {ArrowDown: 1, ArrowUp: -1}[ev.key];
    if (!step || ev.target.tagName !== "A") return;
    const links = all("tbody tr:not([hidden]) a", table);
    const next = links[links.indexOf(ev.target) + step];
    if (next) { next.focus(); ev.preventDefault(); }
  });
  document.addEventListener("keydown", ev => {
    if (ev.key !== "Escape" || shown < 0) return;
    clear(shown);
    shown = -1;
    if (mapDot) mapDot.setAttribute("cx", -100);
    if (readout) readout.textContent = "";
    all(".chosen").forEach(x => x.classList.remove("chosen"));
  });
})();
