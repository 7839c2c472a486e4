// The map of ways: a click sets the start, the next one the end, and the ways are looked for.
"use strict";
(() => {
  const box = document.getElementById("map"), form = document.getElementById("ways");
  if (!box || !window.L) return;
  box.closest(".map").hidden = false;
  const {map, ink, dashes} = gradelineMap(box), words = document.getElementById("map-words");
  const from = form.elements.namedItem("from"), to = form.elements.namedItem("to");
  const ends = L.layerGroup().addTo(map);
  const place = field => {
    const v = field.value.split(",").map(Number);
    return v.length === 2 && v.every(isFinite) && field.value.trim() ? [v[1], v[0]] : null;
  };
  function drawEnds() {
    ends.clearLayers();
    for (const [field, letter, name] of [[from, "A", "start"], [to, "B", "end"]]) {
      const at = place(field);
      if (at) L.marker(at, {icon: L.divIcon({className: "", iconSize: [22, 22], html: '<span class="sign end" aria-hidden="true">' + letter + "</span>"}), alt: name, title: name, zIndexOffset: 2000}).addTo(ends);
    }
  }
  function choose(field, at) {
    field.value = at.wrap().lng.toFixed(5) + "," + at.lat.toFixed(5);
    if (field === from) {
      to.value = "";
      words.textContent = "The start is set. Now the end.";
    }
    drawEnds();
    if (place(from) && place(to)) form.requestSubmit();
  }
  map.on("click", ev => choose(place(from) && !place(to) ? to : from, ev.latlng));
  document.getElementById("from-here").addEventListener("click", () => choose(from, map.getCenter()));
  document.getElementById("to-here").addEventListener("click", () => choose(to, map.getCenter()));
  let bounds = null;
  const lines = JSON.parse(document.getElementById("lines").textContent);
  for (const w of [...lines].reverse()) {
    const t = document.createElement("span");
    t.textContent = w.words;
    L.polyline(w.line, {color: "#fff", weight: w.place === 1 ? 11 : 7, interactive: false}).addTo(map);
    const l = L.polyline(w.line, {color: ink[w.code], weight: w.place === 1 ? 7 : 3.5, dashArray: dashes[w.code], className: "way", bubblingMouseEvents: false}).bindPopup(t).addTo(map);
    const name = document.createElement("span");
    name.textContent = w.place;
    l.bindTooltip(name, {permanent: true, className: "name", direction: "center"});
    bounds = bounds ? bounds.extend(l.getBounds()) : l.getBounds();
  }
  drawEnds();
  if (bounds) map.fitBounds(bounds, {padding: [30, 30], animate: false});
  // The catalogue's descents, thin: where the hills are.
  fetch(box.dataset.map).then(r => r.json()).then(data => {
    const b = data.bounds_deg;
    if (!bounds && b) map.fitBounds([[b[1], b[0]], [b[3], b[2]]], {padding: [30, 30], animate: false});
    else if (!bounds) map.setView(place(from) || [0, 0], 8, {animate: false});
    for (const d of data.descents) {
      if (!d.line.length) continue;
      const t = document.createElement("span");
      t.textContent = d.title + ": " + d.answer + (d.in_question ? ", IN QUESTION" : "");
      L.polyline(d.line, {color: ink[d.code], weight: 2, dashArray: dashes[d.code]}).bindTooltip(t).addTo(map);
    }
    box.dataset.ready = "1";
  }).catch(() => { words.textContent = "The descents cannot be drawn now."; });
})();
