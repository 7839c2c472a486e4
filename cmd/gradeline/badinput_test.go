package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// Wrong use ends with code 2 and a line that says what to write instead.
func TestWrongUse(t *testing.T) {
	for _, c := range []struct {
		args  string
		parts []string
	}{
		{"hold --grade 8 --length 6mi --class us-5axle", []string{"--grade", "without a unit", "add the unit: 8%"}},
		{"hold --grade 8% --length 6 --class us-5axle", []string{"--length", "without a unit", "6km or 6mi"}},
		{"hold --grade 8% --length 6mi --class us-5axle --mass 80000", []string{"--mass", "without a unit", "80000kg or 80000lb"}},
		{"hold --grade 8% --length 6mi --class us-5axle --mass 40ton", []string{"three meanings", "40st"}},
		{"hold --grade 8% --length 6mi --class us-5axl", []string{"no class", "us-5axle"}},
		{"hold --grade 8% --length 6mi", []string{"--class is needed"}},
		{"hold --length 6mi --class us-5axle", []string{"--grade"}},
		{"hold --grade 8% --length 6mi --class us-5axle --speed 3", []string{"no flag --speed"}},
		{"hold --grade 8% --length 6mi --class us-5axle extra", []string{"extra"}},
		{"hold --grade", []string{"needs a value"}},
		{"hold --grade 8% --length 6mi --class us-5axle --posted 35", []string{"--posted", "35km/h or 35mph"}},
		{"--json list", []string{"after the command", "write gradeline list --json"}},
		{"--units us list --limit 3", []string{"write gradeline list --units us --limit 3"}},
		{"list --unit us", []string{"did you mean --units?"}},
		{"hold --grade 8% --length 6 miles --class us-5axle", []string{"one word, as in 6mi"}},
		{"compare --class us-5axle main.go", []string{"is a file", "--terrain"}},
		{"help lst", []string{"did you mean list?"}},
		{"roads.geojson", []string{"is not a command", "gradeline survey --terrain DEM.tif roads.geojson"}},
		{"dem.tif roads.geojson", []string{"is not a command", "gradeline survey --terrain dem.tif"}},
		{"hills.gpkg", []string{"is not a command", "gradeline list --catalog hills.gpkg"}},
		{"veltrane-pass-road-f-4.7", []string{"is not a command", "gradeline show veltrane-pass-road-f-4.7"}},
		{"completion fish", []string{"use bash or zsh"}},
		{"lst", []string{"is not a command", "did you mean list"}},
		{"survey roads.geojson", []string{"--terrain"}},
		{"survey --terrain dem.tif", []string{"routes"}},
		{"survey --terrain dem.tif --vertical-unit feet r.geojson", []string{"--vertical-unit", "us-ft"}},
		{"list --units imperial", []string{"us or metric"}},
		{"list --bbox 46,11,47", []string{"west,south,east,north"}},
		{"list --state done", []string{"surveyed", "approved"}},
		{"overlay roads", []string{"descents", "avoid"}},
		{"overlay avoid", []string{"--class"}},
		{"classes show", []string{"classes has no"}},
		{"show", []string{"the id of one descent"}},
	} {
		r := gradeline(t, strings.Fields(c.args)...)
		if r.code != exitUsage {
			t.Errorf("%s: exit code %d, want %d (%s)", c.args, r.code, exitUsage, r.err)
		}
		if r.out != "" {
			t.Errorf("%s: data on standard output: %q", c.args, r.out)
		}
		r.says(t, c.parts...)
	}
}

func TestFlagsWorkAfterArguments(t *testing.T) {
	before := gradeline(t, "classes", "--json", "list").want(t, exitDone)
	after := gradeline(t, "classes", "list", "--json").want(t, exitDone)
	if before.out != after.out || !strings.HasPrefix(after.out, "{") {
		t.Error("a flag after the argument gives another answer")
	}
}

// Bad files end with code 1, one line naming the file and what to do, and nothing written.
func TestBadFiles(t *testing.T) {
	h := makeHill(t, 6, nil)
	write := func(name, text string) string {
		p := h.path(name)
		if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	line := func(coords string) string {
		return `{"type":"Feature","properties":{"name":"x"},"geometry":{"type":"LineString","coordinates":` + coords + `}}`
	}
	dem, err := os.ReadFile(h.dem)
	if err != nil {
		t.Fatal(err)
	}
	truncated := write("cut.tif", string(dem[:len(dem)/3]))
	nocrs := h.path("nocrs.asc")
	if out, err := exec.Command("gdal_translate", "-q", "-of", "AAIGrid", "-co", "FORCE_CELLSIZE=YES", h.dem, nocrs).CombinedOutput(); err != nil {
		t.Fatalf("gdal_translate: %v %s", err, out)
	}
	for _, beside := range []string{"nocrs.prj", "nocrs.asc.aux.xml"} {
		if err := os.RemoveAll(h.path(beside)); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name, terrain, routes string
		parts                 []string
	}{
		{"missing raster", h.path("none.tif"), h.road, []string{"none.tif"}},
		{"raster that is text", write("text.tif", "hello"), h.road, []string{"text.tif"}},
		{"truncated raster", truncated, h.road, []string{"cut.tif"}},
		{"no CRS", nocrs, h.road, []string{"nocrs.asc", "coordinate reference system"}},
		{"missing routes", h.dem, h.path("none.geojson"), []string{"none.geojson"}},
		{"broken JSON", h.dem, write("broken.geojson", `{"type":"Feature","geometry":{`), []string{"broken.geojson"}},
		{"one point", h.dem, write("one.geojson", line("[[11.01,46]]")), []string{"one.geojson"}},
		{"swapped coordinates", h.dem, write("swapped.geojson", line("[[46,111],[46,111.05]]")), []string{"swapped.geojson", "swapped"}},
		{"outside the raster", h.dem, write("outside.geojson", line("[[12,47],[12.05,47]]")), []string{"outside.geojson", "outside"}},
	} {
		cat := h.path("bad.gpkg")
		r := gradeline(t, "survey", "--terrain", c.terrain, "--catalog", cat, c.routes)
		if r.code != exitFailed {
			t.Errorf("%s: exit code %d, want %d\n%s", c.name, r.code, exitFailed, r.err)
		}
		if r.out != "" {
			t.Errorf("%s: data on standard output: %q", c.name, r.out)
		}
		t.Run(c.name, func(t *testing.T) { r.says(t, c.parts...) })
		left, err := filepath.Glob(h.path("*.part"))
		if err != nil || len(left) > 0 {
			t.Errorf("%s: left behind %v", c.name, left)
		}
	}
}

func TestACatalogueThatIsNotOursIsLeftAlone(t *testing.T) {
	h := makeHill(t, 6, nil)
	foreign := h.path("foreign.gpkg")
	const text = "this is no catalogue, and must stay as it is"
	if err := os.WriteFile(foreign, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{
		{"list", "--catalog", foreign},
		{"show", "x", "--catalog", foreign},
		{"overlay", "descents", "--catalog", foreign},
		{"survey", "--terrain", h.dem, "--catalog", foreign, h.road},
	} {
		gradeline(t, args...).want(t, exitFailed).says(t, "foreign.gpkg")
	}
	if b, err := os.ReadFile(foreign); err != nil || string(b) != text {
		t.Errorf("the file was changed: %v %q", err, b)
	}
	gradeline(t, "list", "--catalog", h.path("none.gpkg")).want(t, exitFailed).says(t, "none.gpkg")
	if _, err := os.Stat(h.path("none.gpkg")); err == nil {
		t.Error("list made a catalogue")
	}
}

func TestOneGoodRouteAmongBadOnesIsKeptAndTheRestNamed(t *testing.T) {
	h := makeHill(t, 6, nil)
	good := fmt.Sprintf("[%.7f,%.7f],[%.7f,%.7f]", hillLonDeg, hillLatDeg, hillLonDeg+h.lengthM/degreeM(), hillLatDeg)
	text := `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"Good"},"geometry":{"type":"LineString","coordinates":[` + good + `]}},
{"type":"Feature","properties":{"name":"Away"},"geometry":{"type":"LineString","coordinates":[[20,40],[20.1,40]]}},
{"type":"Feature","properties":{"name":"Point"},"geometry":{"type":"Point","coordinates":[20,40]}}]}`
	if err := os.WriteFile(h.road, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	a := h.survey(t, exitGaps)
	if n := len(a["routes"].([]any)); n != 1 {
		t.Errorf("%d routes", n)
	}
	if n := len(a["skipped"].([]any)); n != 2 {
		t.Errorf("%d skipped: %v", n, a["skipped"])
	}
}
