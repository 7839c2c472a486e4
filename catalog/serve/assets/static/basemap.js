// What every map of the page has: the terrain under it, a scale, and the styles of answers.
"use strict";
function gradelineMap(box) {
  const map = L.map(box, {attributionControl: false, zoomSnap: 0.5, worldCopyJump: true, fadeAnimation: false});
  if (box.dataset.least !== undefined) {
    L.tileLayer("/tiles/{z}/{x}/{y}.png", {minZoom: +box.dataset.least, minNativeZoom: +box.dataset.least, maxNativeZoom: 17, maxZoom: 19}).addTo(map);
  }
  L.control.scale().addTo(map);
  // The style of a line shows the answer as well as its colour.
  const ink = {not: "#8c1c13", unknown: "#3b3b3b", dry: "#7a4b00", held: "#0b5351"};
  const dashes = {not: "6 7", unknown: "1 9", dry: "18 8", held: null};
  return {map, ink, dashes};
}
