package main

import (
	"os"
	"strings"
	"testing"
)

// The credits that licences of roads and terrain require are stored in the catalogue and printed on
// pages, maps and edges.
func TestCreditsArePrinted(t *testing.T) {
	h := makeHill(t, 6, nil)
	cat := h.path("c.gpkg")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, "--terrain-credit", "© Test Survey 2026", h.writeExtract(t, "roads.osm", 4)).want(t, exitDone)
	for _, c := range [][]string{
		{"overlay", "descents", "-o", h.path("d.geojson")}, {"overlay", "holds", "--class", "us-5axle", "-o", h.path("a.geojson")}, {"report", "-o", h.path("r.html")},
	} {
		gradeline(t, append(c, "--catalog", cat)...).want(t, exitDone)
		b, err := os.ReadFile(c[len(c)-1])
		for _, want := range []string{"© OpenStreetMap contributors, ODbL 1.0", "© Test Survey 2026"} {
			if err != nil || !strings.Contains(string(b), want) {
				t.Errorf("%v: no %q, %v", c, want, err)
			}
		}
	}
	gradeline(t, "overlay", "edges", "--class", "us-5axle", "--catalog", cat, "-o", h.path("e.csv")).want(t, exitDone)
	if b, err := os.ReadFile(h.path("e.csv")); err != nil || !strings.Contains(string(b), "© OpenStreetMap contributors, ODbL 1.0") {
		t.Errorf("edges without the roads' credit: %v", err)
	}
}
