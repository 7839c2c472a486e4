// Reads a profile along the hill: the slider, the pointer and the arrow keys move one cursor.
"use strict";
(() => {
  const data = JSON.parse(document.getElementById("series").textContent), d = data.series;
  const svg = document.querySelector(".profile"), along = document.getElementById("along"), read = document.getElementById("read");
  if (!svg || !d.distance_m || !d.distance_m.length) return;
  const line = svg.querySelector(".cursor"), width = svg.viewBox.baseVal.width;
  const rows = document.querySelectorAll(".pieces tbody tr");
  // A stop every 100 m from the crest, and the last station.
  const last = d.distance_m.length - 1, stops = [];
  for (let at = Math.ceil(d.distance_m[0] / 100) * 100, k = 0; at <= d.distance_m[last]; at += 100) {
    while (k < last && Math.abs(d.distance_m[k + 1] - at) <= Math.abs(d.distance_m[k] - at)) k++;
    if (stops[stops.length - 1] !== k) stops.push(k);
  }
  if (stops[stops.length - 1] !== last) stops.push(last);
  along.max = stops.length - 1;
  along.closest(".slide").hidden = false;
  const figure = (v, decimals, unit) => v === null ? "unknown" : v.toFixed(decimals) + unit;
  function show(k) {
    line.setAttribute("transform", "translate(" + (d.x_share[k] * width + 9) + " 0)");
    const grade = d.downgrade_pct[k];
    const words = figure(d.distance_m[k] / data.farM, 2, " " + data.far) + " from the crest, " +
      (d.elevation_m[k] === null ? "elevation unknown" : figure(d.elevation_m[k] / data.highM, 0, " " + data.high)) + ", downgrade " + figure(grade, 1, " %") +
      (rows[d.piece[k]] ? ", " + rows[d.piece[k]].cells[4].textContent : "");
    read.textContent = words;
    along.setAttribute("aria-valuetext", words);
  }
  along.addEventListener("input", () => show(stops[+along.value]));
  svg.addEventListener("pointermove", ev => {
    const box = svg.getBoundingClientRect(), share = (ev.clientX - box.left) / box.width;
    let best = 0;
    stops.forEach((k, i) => { if (Math.abs(d.x_share[k] - share) < Math.abs(d.x_share[stops[best]] - share)) best = i; });
    along.value = best;
    show(stops[best]);
  });
})();
