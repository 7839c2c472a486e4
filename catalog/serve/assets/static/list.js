// The map next to the list. The list works without it.
"use strict";
(() => {
  const box = document.getElementById("map");
  if (!box || !window.L) return;
  const section = box.closest(".map"), words = document.getElementById("map-words"), follow = document.getElementById("follow");
  section.hidden = false;
  const {map, ink, dashes} = gradelineMap(box);
  const signs = {not: "×", unknown: "?", dry: "", held: ""};
  const layer = L.layerGroup().addTo(map);
  let followed = false, asked = 0, labels = [];

  function sign(kind, text, isAsked) {
    return L.divIcon({className: "", iconSize: [18, 18], html: '<span class="sign ' + kind + (isAsked ? " question" : "") + '" aria-hidden="true">' + text + "</span>"});
  }
  // Text of the catalogue enters the page as text, never as markup.
  function popup(d) {
    const p = document.createElement("div"), a = document.createElement("a"), b = document.createElement("p");
    a.href = d.address;
    a.textContent = d.title;
    b.className = "answer " + d.code;
    b.textContent = d.answer;
    p.append(a, b);
    if (d.in_question) {
      const q = document.createElement("b");
      q.textContent = "IN QUESTION";
      p.append(q);
    }
    return p;
  }
  // A name stands where it covers no name of something more dangerous, and no sign.
  function named(place, text, kind) {
    const t = document.createElement("span");
    t.textContent = text;
    const l = L.tooltip({permanent: true, direction: "right", offset: [10, 0], className: "name " + kind, interactive: false}).setLatLng(place).setContent(t);
    labels.push(l);
    l.addTo(layer);
  }
  function partLabels() {
    const taken = [...box.querySelectorAll(".leaflet-marker-icon .sign")].map(e => e.getBoundingClientRect());
    for (const l of labels) {
      const e = l.getElement(), r = e && e.getBoundingClientRect();
      if (!r) continue;
      const hides = taken.some(o => r.left < o.right && r.right > o.left && r.top < o.bottom && r.bottom > o.top);
      e.style.visibility = hides ? "hidden" : "";
      if (!hides) taken.push(r);
    }
  }
  map.on("zoomend", partLabels);
  function draw(data) {
    layer.clearLayers();
    labels = [];
    const few = data.descents.length <= 150, isNamed = data.descents.length <= 40;
    for (const p of data.steep_parts) {
      const t = document.createElement("span");
      t.textContent = p.words;
      L.polyline(p.line, {color: "#fff", weight: 8, opacity: 0.8, interactive: false}).addTo(layer);
      L.polyline(p.line, {color: "#000", weight: 4, dashArray: "9 3 2 3", lineCap: "butt", className: "steep-part"}).bindPopup(t).addTo(layer);
    }
    // The most dangerous is last, on top.
    for (const d of [...data.descents].reverse()) {
      if (!d.line.length) continue;
      const style = {color: ink[d.code], weight: 5, dashArray: dashes[d.code], lineCap: d.code === "unknown" ? "round" : "butt"};
      // What is in question never looks like what is sure: its line has black edges.
      if (d.in_question) L.polyline(d.line, {color: "#000", weight: 12, interactive: false, className: "in-question"}).addTo(layer);
      L.polyline(d.line, {color: "#fff", weight: 9, opacity: d.in_question ? 1 : 0.8, interactive: false}).addTo(layer);
      L.polyline(d.line, style).bindPopup(() => popup(d)).addTo(layer);
      L.circleMarker(d.line[d.line.length - 1], {radius: 4, weight: 2, color: "#fff", fillColor: ink[d.code], fillOpacity: 1, interactive: false}).addTo(layer);
      L.marker(d.line[0], {icon: sign(d.code, signs[d.code], d.in_question), keyboard: few, zIndexOffset: 1000, alt: d.title + ": " + d.answer, title: d.title}).bindPopup(() => popup(d)).addTo(layer);
    }
    for (const s of data.sites) {
      const t = document.createElement("span");
      t.textContent = s.words;
      L.marker(s.place_deg, {icon: sign("site", "", false), keyboard: few, alt: s.words, title: s.words}).bindPopup(t).addTo(layer);
    }
    // Names in order of danger, then those of the sites.
    if (isNamed) {
      for (const d of data.descents) if (d.line.length) named(d.line[0], d.title, d.code);
      for (const s of data.sites) if (s.name) named(s.place_deg, s.name, "site");
      partLabels();
    }
    words.textContent = data.left_out ? "The " + data.descents.length + " most dangerous are drawn; " + data.left_out + " more are chosen: come nearer." : "";
    if (data.steep_parts_left_out) words.textContent += " " + data.steep_parts_left_out + " more steep parts are chosen than drawn.";
  }
  async function load(address, fit) {
    const mine = ++asked;
    try {
      const answer = await fetch(address);
      if (!answer.ok) throw new Error(answer.status);
      const data = await answer.json();
      if (mine !== asked) return;
      if (fit) {
        const b = data.bounds_deg;
        if (b) map.fitBounds([[b[1], b[0]], [b[3], b[2]]], {padding: [25, 25], maxZoom: 15, animate: false});
        else map.setView([0, 0], 1, {animate: false});
      }
      draw(data);
      box.dataset.ready = "1";
    } catch (e) {
      words.textContent = "The map cannot be drawn now; the list stands.";
    }
  }
  // After the reader moves the map, the list and the address are those of the map's box.
  async function followMap() {
    if (!follow.checked) return;
    const b = map.getBounds(), at = new URL(location.href), wrap = x => Math.max(-180, Math.min(180, x)).toFixed(4);
    at.searchParams.set("box", [wrap(b.getWest()), b.getSouth().toFixed(4), wrap(b.getEast()), b.getNorth().toFixed(4)].join(","));
    at.searchParams.delete("page");
    const mine = ++asked;
    const answer = await fetch(at);
    if (mine !== asked || !answer.ok) return;
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    history.replaceState(null, "", at);
    for (const id of ["results", "files-list", "box-choice"]) {
      const now = document.getElementById(id), next = page.getElementById(id);
      if (now && next) now.replaceWith(document.importNode(next, true));
    }
    load("/map?" + at.searchParams, false);
  }
  load(box.dataset.map, true).then(() => {
    let timer = 0;
    const later = () => { if (followed) { clearTimeout(timer); timer = setTimeout(followMap, 250); } };
    for (const kind of ["mousedown", "wheel", "keydown", "touchstart"]) box.addEventListener(kind, () => { followed = true; }, {capture: true, passive: true});
    map.on("moveend", later);
    follow.addEventListener("change", () => { if (follow.checked) followMap(); });
  });
})();
