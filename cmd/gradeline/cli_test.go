package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// result is what one command said.
type result struct {
	code     int
	out, err string
}

// gradeline runs a command in this process, in dir.
func gradeline(t *testing.T, args ...string) result {
	t.Helper()
	var out, errOut bytes.Buffer
	code := run(context.Background(), append([]string{"gradeline"}, args...), strings.NewReader(""), &out, &errOut)
	return result{code, out.String(), errOut.String()}
}

// want fails unless the exit code fits.
func (r result) want(t *testing.T, code int) result {
	t.Helper()
	if r.code != code {
		t.Fatalf("exit code %d, want %d\nout: %s\nerr: %s", r.code, code, r.out, r.err)
	}
	return r
}

// says fails unless the error stream has one line with every part.
func (r result) says(t *testing.T, parts ...string) {
	t.Helper()
	line := strings.TrimSpace(r.err)
	if strings.Contains(line, "\n") {
		t.Errorf("more than one line: %q", line)
	}
	for _, p := range parts {
		if !strings.Contains(line, p) {
			t.Errorf("%q lacks %q", line, p)
		}
	}
}

// hill is a straight road east along a parallel: level, a long even downgrade, level.
type hill struct {
	dir, dem, road string
	lengthM        float64
}

const (
	hillLatDeg = 46.0
	hillLonDeg = 11.0
	cellDeg    = 1.0 / 10800 // 1/3 arc second
)

// degreeM is one degree of longitude at the hill's latitude on WGS 84, from the
// ellipsoid's prime-vertical radius.
func degreeM() float64 {
	const a, e2 = 6378137.0, 0.00669437999014
	s := math.Sin(hillLatDeg * math.Pi / 180)
	return a / math.Sqrt(1-e2*s*s) * math.Cos(hillLatDeg*math.Pi/180) * math.Pi / 180
}

// makeHill writes the hill's raster and road. change may alter the height at a
// distance from the west end; NaN makes a void.
func makeHill(t *testing.T, gradePct float64, change func(xM, h float64) float64) hill {
	t.Helper()
	h := hill{dir: t.TempDir(), lengthM: 7000}
	g := hillGrid(h.lengthM, gradePct, change, 0.01)
	h.dem = filepath.Join(h.dir, "dem.tif")
	if err := raster.Write(h.dem, g, raster.WriteOptions{NoData: -9999}); err != nil {
		t.Fatal(err)
	}
	h.road = filepath.Join(h.dir, "road.geojson")
	h.writeRoad(t, fmt.Sprintf("[%.7f,%.7f],[%.7f,%.7f]", hillLonDeg, hillLatDeg, hillLonDeg+h.lengthM/degreeM(), hillLatDeg))
	return h
}

// hillGrid is the hill's ground, with so much roughness: no ground is exactly level.
func hillGrid(lengthM, gradePct float64, change func(xM, h float64) float64, roughM float64) *terrain.Grid {
	cols := int(lengthM/degreeM()/cellDeg) + 20
	g := &terrain.Grid{Cols: cols, Rows: 60, WestX: hillLonDeg - 10*cellDeg, NorthY: hillLatDeg + 30*cellDeg, StepX: cellDeg, StepY: cellDeg, CRS: "EPSG:4326"}
	noise := rand.New(rand.NewPCG(1, 2))
	for range g.Rows {
		for c := range cols {
			x := (float64(c) + 0.5 - 10) * cellDeg * degreeM()
			z := 1500 - gradePct/100*math.Max(0, math.Min(4000, x-1500))
			if change != nil {
				z = change(x, z)
			}
			g.ElevationM = append(g.ElevationM, float32(z+roughM*(2*noise.Float64()-1)))
		}
	}
	return g
}

func (h hill) writeRoad(t *testing.T, coordinates string) {
	t.Helper()
	text := `{"type":"Feature","properties":{"name":"Test Road"},"geometry":{"type":"LineString","coordinates":[` + coordinates + `]}}`
	if err := os.WriteFile(h.road, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}

func (h hill) path(name string) string { return filepath.Join(h.dir, name) }

// survey runs survey --json on the hill.
func (h hill) survey(t *testing.T, code int, more ...string) map[string]any {
	t.Helper()
	r := gradeline(t, append([]string{"survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--json", h.road}, more...)...).want(t, code)
	var a map[string]any
	if err := json.Unmarshal([]byte(r.out), &a); err != nil {
		t.Fatalf("not one JSON object: %v\n%s", err, r.out)
	}
	return a
}

func number(t *testing.T, m map[string]any, key string) float64 {
	t.Helper()
	v, ok := m[key].(float64)
	if !ok {
		t.Fatalf("%s is %v, not a number", key, m[key])
	}
	return v
}

func first(t *testing.T, m map[string]any, key string) map[string]any {
	t.Helper()
	list, ok := m[key].([]any)
	if !ok || len(list) == 0 {
		t.Fatalf("%s is %v", key, m[key])
	}
	return list[0].(map[string]any)
}

// The truth is the surface that the test wrote: 4,000 m at 6 % from x = 1,500 m.
func TestSurveyFindsTheHillThatWasBuilt(t *testing.T) {
	h := makeHill(t, 6, nil)
	a := h.survey(t, exitDone)
	if a["schema"] != "gradeline/1" {
		t.Errorf("schema %v", a["schema"])
	}
	if n := len(a["descents"].([]any)); n != 1 {
		t.Fatalf("%d descents", n)
	}
	d := first(t, a, "descents")
	for _, c := range []struct {
		key       string
		want, tol float64
	}{
		{"start_m", 1500, 60}, {"end_m", 5500, 60}, {"length_m", 4000, 100}, {"drop_m", 240, 3},
		{"mean_downgrade_pct", 6, 0.12}, {"steepest_500m_pct", 6, 0.1}, {"crest_elevation_m", 1500, 2}, {"foot_elevation_m", 1260, 2},
	} {
		if got := number(t, d, c.key); math.Abs(got-c.want) > c.tol {
			t.Errorf("%s = %v, want %v ± %v", c.key, got, c.want, c.tol)
		}
	}
	if d["direction"] != "forward" || d["route"] != "Test Road" || d["id"] == "" {
		t.Errorf("direction %v, route %v, id %v", d["direction"], d["route"], d["id"])
	}
	if d["tightest_radius_m"] != nil {
		t.Errorf("a straight road has radius %v", d["tightest_radius_m"])
	}
	for _, key := range []string{"class", "mass_kg", "holds", "gear", "ratio", "stage", "speed_mps", "engine_rpm", "retarder_use_pct", "limited_by",
		"heaviest_mass_kg", "missing_power_w", "friction_needed", "service_brake_temp_c", "cautions"} {
		if _, ok := first(t, d, "holds")[key]; !ok {
			t.Errorf("hold lacks %s", key)
		}
	}
	r := first(t, a, "routes")
	if number(t, r, "missing_m") != 0 || r["reliable"] != true || number(t, r, "stations") < 100 || math.Abs(number(t, r, "length_m")-7000) > 0.5 {
		t.Errorf("route %v", r)
	}
}

func TestListAndShowGiveWhatSurveyStored(t *testing.T) {
	h := makeHill(t, 6, nil)
	id := first(t, h.survey(t, exitDone), "descents")["id"].(string)
	var list map[string]any
	r := gradeline(t, "list", "--catalog", h.path("c.gpkg"), "--json").want(t, exitDone)
	if err := json.Unmarshal([]byte(r.out), &list); err != nil {
		t.Fatal(err)
	}
	if got := first(t, list, "descents")["id"]; got != id {
		t.Errorf("list gives %v, survey %v", got, id)
	}
	show := gradeline(t, "show", id, "--catalog", h.path("c.gpkg"), "--units", "us").want(t, exitDone)
	for _, part := range []string{id, "mean downgrade", "ft", "mi", "Cautions", "not field-checked"} {
		if !strings.Contains(show.out, part) {
			t.Errorf("show lacks %q:\n%s", part, show.out)
		}
	}
	gradeline(t, "show", "no-such-hill", "--catalog", h.path("c.gpkg")).want(t, exitFailed).says(t, "no-such-hill")
	plot := h.path("p.svg")
	gradeline(t, "show", id, "--catalog", h.path("c.gpkg"), "--plot", plot).want(t, exitDone)
	if b, err := os.ReadFile(plot); err != nil || !bytes.Contains(b, []byte("<svg")) {
		t.Errorf("plot: %v", err)
	}
}

func TestOverlaysCarryCautions(t *testing.T) {
	h := makeHill(t, 11.5, nil)
	h.survey(t, exitDone)
	for _, kind := range []string{"descents", "holds", "avoid"} {
		args := []string{"overlay", kind, "--catalog", h.path("c.gpkg")}
		if kind != "descents" {
			args = append(args, "--class", "ca-btrain-63t")
		}
		r := gradeline(t, args...).want(t, exitDone)
		var fc struct {
			Type     string           `json:"type"`
			Features []map[string]any `json:"features"`
		}
		if err := json.Unmarshal([]byte(r.out), &fc); err != nil || fc.Type != "FeatureCollection" || len(fc.Features) == 0 {
			t.Errorf("%s: %v, %d features", kind, err, len(fc.Features))
		}
		if !strings.Contains(r.out, "planning aid") {
			t.Errorf("%s carries no caution", kind)
		}
	}
}

func TestProfileFileHasTheContractsColumns(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.survey(t, exitDone, "--profile", h.path("p.csv"))
	b, err := os.ReadFile(h.path("p.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	if lines[0] != "route,station_m,ground_m,elevation_m,grade_pct,state" || len(lines) < 100 {
		t.Errorf("%q, %d lines", lines[0], len(lines))
	}
	if !strings.HasPrefix(lines[1], "Test Road,0.000,") || !strings.HasSuffix(lines[1], ",measured") {
		t.Errorf("first row %q", lines[1])
	}
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--profile", h.path("p.csv"), h.road).want(t, exitFailed).says(t, "p.csv", "exists")
}

func TestAPartlyMissingProfileIsSaidAndNotFilled(t *testing.T) {
	h := makeHill(t, 6, func(x, z float64) float64 {
		if x > 6000 {
			return math.NaN()
		}
		return z
	})
	a := h.survey(t, exitGaps)
	if m := number(t, first(t, a, "routes"), "missing_m"); m < 900 || m > 1100 {
		t.Errorf("missing_m %v", m)
	}
}

func TestSeveralRastersMayFollowTerrain(t *testing.T) {
	h := makeHill(t, 6, nil)
	second := h.path("coarse.tif")
	b, err := os.ReadFile(h.dem)
	if err == nil {
		err = os.WriteFile(second, b, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	r := gradeline(t, "survey", "--terrain", h.dem, second, h.road, "--catalog", h.path("c.gpkg"), "--json").want(t, exitDone)
	if n := len(parse(t, r)["descents"].([]any)); n != 1 {
		t.Errorf("%d descents", n)
	}
	gradeline(t, "survey", "--terrain", h.dem, second).want(t, exitUsage).says(t, "routes")
}

// A fleet is asked about, and nothing else: each descent has advice for its classes only.
func TestSurveyForAFleet(t *testing.T) {
	h := makeHill(t, 6, nil)
	d := first(t, h.survey(t, exitDone, "--fleet", "us-5axle, us-5axle-60k"), "descents")
	var ids []string
	for _, x := range d["holds"].([]any) {
		ids = append(ids, x.(map[string]any)["class"].(string))
	}
	slices.Sort(ids)
	if !slices.Equal(ids, []string{"us-5axle", "us-5axle-60k"}) {
		t.Errorf("holds of %v", ids)
	}
	gradeline(t, "survey", "--terrain", h.dem, "--fleet", "us-5axel", "--catalog", h.path("c.gpkg"), h.road).want(t, exitUsage).says(t, "us-5axel", "us-5axle-60k")
}
