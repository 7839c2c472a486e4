package main

import (
	"bytes"
	"math"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/ranking"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// A row of compare fits a terminal of 100 columns with the longest name that stands
// on one line, and what a curve does is said in words.
func TestCompareIsReadInATerminal(t *testing.T) {
	dropM := 1234.0
	held := ranking.Verdict{Place: 1, Route: "Old Quendrel Road southbound", LengthM: 216100, Holds: true, Descents: 2, Worst: "hill-1", WorstName: "Hill",
		SlowestMPS: 25, SlowestOn: "hill-2", SlowestBy: catalog.LimitCurve, OnRetarderS: 9000, ExcessDropM: &dropM, HeaviestMassKg: 200000}
	retarder, not, part := held, held, held
	retarder.Place, retarder.SlowestBy, retarder.ExcessDropM, retarder.ExcessInDescentsM = 2, catalog.LimitRetarder, nil, dropM
	part.Place, part.Unknown = 3, "200 m of it have no ground under them"
	not.Place, not.Holds, not.SlowestMPS, not.SlowestBy, not.NotHeld, not.HeaviestMassKg = 4, false, 0, "", []string{"hill-1", "hill-2"}, 0
	a := &answer.Comparison{Class: "ca-btrain-63t", MassKg: 63500, Routes: []ranking.Verdict{held, retarder, part, not}, Cautions: catalog.Cautions()}
	for _, u := range []catalog.Units{catalog.Metric, catalog.US} {
		var b bytes.Buffer
		if err := a.WriteText(&b, u); err != nil {
			t.Fatal(err)
		}
		for _, line := range strings.Split(b.String(), "\n") {
			if n := utf8.RuneCountInString(line); n > 100 {
				t.Errorf("%v: %d columns: %s", u, n, line)
			}
		}
		text := strings.Join(strings.Fields(b.String()), " ")
		words := map[catalog.Units]string{catalog.Metric: "90 km/h", catalog.US: "55 mph"}[u]
		if n := strings.Count(text, "A curve sets the slowest speed, "+words+" on hill-2; on the straight the retarder would hold more."); n != 2 {
			t.Errorf("%v: a curve is named %d times, want for the first route and the third:\n%s", u, n, b.String())
		}
		for _, want := range []string{"2 descents; the worst: hill-1.", "NOT HELD none none", "The worst: hill-1. Not held: hill-1; hill-2.", "no ground under them", " ≥"} {
			if !strings.Contains(text, want) {
				t.Errorf("%v: no %q in\n%s", u, want, b.String())
			}
		}
	}
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	r := gradeline(t, "compare", "--class", "us-5axle", "--catalog", cat, "Veltrane Pass Road", "Old Quendrel Road", "Brasket Gap Road").want(t, exitDone)
	for _, line := range strings.Split(r.out, "\n") {
		if n := utf8.RuneCountInString(line); n > 100 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}

// Rasters that stand at different heights are warned of by compare as by survey: its
// answer rests on the same grade lines.
func TestCompareWarnsOfRastersAtDifferentHeights(t *testing.T) {
	h := makeHill(t, 6, func(xM, z float64) float64 {
		if xM > 6000 {
			return math.NaN() // the other raster's part
		}
		return z
	})
	const step = 3 * cellDeg
	g := &terrain.Grid{Cols: int(h.lengthM/degreeM()/step) + 8, Rows: 20, WestX: hillLonDeg - 4*step, NorthY: hillLatDeg + 10*step, StepX: step, StepY: step, CRS: "EPSG:4326"}
	for range g.Rows {
		for k := range g.Cols {
			x := (float64(k) + 0.5 - 4) * step * degreeM()
			g.ElevationM = append(g.ElevationM, float32(1540-0.06*math.Max(0, math.Min(4000, x-1500))))
		}
	}
	high := h.path("high.tif")
	if err := raster.Write(high, g, raster.WriteOptions{NoData: -9999}); err != nil {
		t.Fatal(err)
	}
	for _, more := range [][]string{nil, {"--json"}} {
		r := gradeline(t, append([]string{"compare", "--class", "us-5axle", "--terrain", h.dem, "--terrain", high, h.road}, more...)...)
		if r.code != exitGaps || !strings.Contains(r.err, "warning: dem.tif: lies 40.0 m below high.tif") {
			t.Errorf("%v: exit code %d, %q", more, r.code, r.err)
		}
		if more != nil && len(parse(t, r)["warnings"].([]any)) == 0 {
			t.Errorf("no warnings in %s", r.out)
		}
	}
}
