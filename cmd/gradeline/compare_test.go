package main

import (
	"bytes"
	"math"
	"os"
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
	dropM, timeS, yes, no := 1234.0, 45000.0, true, false
	held := ranking.Verdict{Class: "ca-btrain-63t", Place: 1, Route: "Old Quendrel Road southbound", LengthM: 216100, Held: &yes, Holds: true, Descents: 2, Worst: "hill-1", WorstName: "Hill",
		SlowestMPS: 25, SlowestOn: "hill-2", SlowestBy: catalog.LimitCurve, OnRetarderS: 9000, DropM: dropM, ExcessDropM: &dropM, HeaviestMassKg: 200000, TimeS: &timeS, Steepest100Pct: 11.7, MarginPct: 100, SurfacesOut: []string{"wet"}}
	retarder, not, part := held, held, held
	retarder.Place, retarder.SlowestBy, retarder.ExcessDropM, retarder.TimeS, retarder.TimeAtLeastS, retarder.ExcessInDescentsM = 2, catalog.LimitRetarder, nil, nil, timeS, dropM
	part.Place, part.Unknown, part.Held, part.TimeS = 3, "200 m of it have no known ground", nil, nil
	not.Place, not.Holds, not.Held, not.SlowestMPS, not.SlowestBy, not.NotHeld, not.HeaviestMassKg, not.TimeS = 4, false, &no, 0, "", []string{"hill-1", "hill-2"}, 0, nil
	a := &answer.Comparison{Class: "ca-btrain-63t", MassKg: 63500, Prefer: ranking.PreferTime, Routes: []ranking.Verdict{held, retarder, part, not}, Cautions: catalog.Cautions()}
	for _, u := range []catalog.Units{catalog.Metric, catalog.US} {
		var b bytes.Buffer
		if err := a.WriteText(&b, u); err != nil {
			t.Fatal(err)
		}
		fitsTerminal(t, b.String())
		text := strings.Join(strings.Fields(b.String()), " ")
		words := map[catalog.Units]string{catalog.Metric: "90 km/h", catalog.US: "55 mph"}[u]
		if n := strings.Count(text, "A curve sets the slowest speed, "+words+" on hill-2; on the straight the retarder would hold more."); n != 2 {
			t.Errorf("%v: a curve is named %d times, want for the first route and the third:\n%s", u, n, b.String())
		}
		for _, want := range []string{"2 descents; the worst: hill-1.", "NOT HELD none", "The worst: hill-1. Not held: hill-1; hill-2.", "no known ground", " ≥12:30 h",
			"southbound " + catalog.DryRoadOnly, "southbound unknown unknown"} {
			if !strings.Contains(text, want) {
				t.Errorf("%v: no %q in\n%s", u, want, b.String())
			}
		}
	}
}

func fitsTerminal(t *testing.T, text string) {
	t.Helper()
	for _, line := range strings.Split(text, "\n") {
		if n := utf8.RuneCountInString(line); n > 100 {
			t.Errorf("%d columns: %s", n, line)
		}
	}
}

// A fleet stands in one table, a mass is answered for from the grade lines that the
// catalogue keeps, and the map and profiles are drawn.
func TestCompareAFleetAndAMassFromTheCatalogue(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	roads := []string{"Veltrane Pass Road", "Old Quendrel Road", "Brasket Gap Road"}
	fitsTerminal(t, gradeline(t, append([]string{"compare", "--class", "us-5axle", "--catalog", cat}, roads...)...).want(t, exitDone).out)
	fleet := gradeline(t, append([]string{"compare", "--class", "us-5axle,ca-btrain-63t", "--catalog", cat}, roads...)...).want(t, exitDone)
	fitsTerminal(t, fleet.out)
	if !strings.Contains(fleet.out, "Held by every class: Veltrane Pass Road.") || strings.Count(fleet.out, "NOT HELD") < 2 {
		t.Errorf("fleet:\n%s", fleet.out)
	}
	a := parse(t, gradeline(t, append([]string{"compare", "--class", "all", "--json", "--catalog", cat}, roads...)...).want(t, exitDone))
	if n := len(a["routes"].([]any)); n%3 != 0 || n < 12 {
		t.Errorf("%d verdicts for all classes on three routes", n)
	}
	// The same mass from the terrain and from the catalogue: the same advice.
	plots := t.TempDir()
	args := []string{"compare", "--class", "us-5axle", "--mass", "28t", "--json"}
	stored := parse(t, gradeline(t, append(append(args, "--catalog", cat, "--plot", filepath.Join(plots, "a.svg")), roads...)...).want(t, exitDone))
	fresh := parse(t, gradeline(t, append(args, "--terrain", filepath.Join(dir, "terrain.tif"), "--plot", filepath.Join(plots, "b.html"), filepath.Join(dir, "routes.geojson"))...).want(t, exitDone))
	by := map[string]map[string]any{}
	for _, v := range stored["routes"].([]any) {
		by[v.(map[string]any)["route"].(string)] = v.(map[string]any)
	}
	for _, v := range fresh["routes"].([]any) {
		f := v.(map[string]any)
		s := by[f["route"].(string)]
		for _, k := range []string{"held", "mass_kg", "margin_pct", "slowest_speed_mps", "descents"} {
			if f[k] != s[k] {
				t.Errorf("%s: %s is %v from the terrain, %v from the catalogue", f["route"], k, f[k], s[k])
			}
		}
		if m, n := number(t, f, "heaviest_mass_kg"), number(t, s, "heaviest_mass_kg"); math.Abs(m-n) > 0.01*m {
			t.Errorf("%s: holds up to %v kg from the terrain, %v from the catalogue", f["route"], m, n)
		}
	}
	for file, want := range map[string]string{"a.svg": "<svg", "b.html": "Veltrane Pass Road"} {
		if b, err := os.ReadFile(filepath.Join(plots, file)); err != nil || !strings.Contains(string(b), want) || !strings.Contains(string(b), "A planning aid") {
			t.Errorf("%s: %v", file, err)
		}
	}
	gradeline(t, "compare", "--class", "us-5axle", "--catalog", cat, "--plot", "x.pdf", roads[0]).want(t, exitUsage)
	gradeline(t, "compare", "--class", "us-5axle,none", "--catalog", cat, roads[0]).want(t, exitUsage)
	gradeline(t, "compare", "--class", "us-5axle", "--prefer", "beauty", "--catalog", cat, roads[0]).want(t, exitUsage)
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
		if r.code != exitGaps || !strings.Contains(r.err, "warning: dem.tif: is 40.0 m below high.tif") {
			t.Errorf("%v: exit code %d, %q", more, r.code, r.err)
		}
		if more != nil && len(parse(t, r)["warnings"].([]any)) == 0 {
			t.Errorf("no warnings in %s", r.out)
		}
	}
}
