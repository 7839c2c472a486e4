package vector

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

const sample = `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{"name":"Kestrel Road","lanes":2,"slope":6.25,"empty":null,"structures":[{"kind":"bridge","from_m":100,"to_m":250}]},
 "geometry":{"type":"LineString","coordinates":[[-105.1234567,39.5],[-105.12,39.51],[-105.11,39.515]]}},
{"type":"Feature","properties":{"name":"Übung – Straße","lanes":null,"slope":null},
 "geometry":{"type":"LineString","coordinates":[[-105.3,39.5],[-105.31,39.51]]}}]}`

func readFile(path string, opts Options) ([]routes.Feature, []routes.Skipped, error) {
	var fs []routes.Feature
	sk, err := Read(context.Background(), path, opts, func(f routes.Feature) error {
		fs = append(fs, f)
		return nil
	})
	return fs, sk, err
}

func run(t *testing.T, name string, args ...string) {
	t.Helper()
	if out, err := exec.Command(name, args...).CombinedOutput(); err != nil {
		t.Fatalf("%s %s: %v\n%s", name, strings.Join(args, " "), err, out)
	}
}

func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// Files that ogr2ogr (GDAL's own program) makes of the same lines, in several
// formats and systems, read alike.
func TestFormats(t *testing.T) {
	dir := t.TempDir()
	src := write(t, filepath.Join(dir, "in.geojson"), sample)
	want, _, err := readFile(src, Options{})
	if err != nil || len(want) != 2 {
		t.Fatal(err, len(want))
	}
	cases := []struct {
		file string
		args []string
		tol  float64 // degrees
		tags bool
	}{
		{"a.gpkg", []string{"-f", "GPKG"}, 1e-9, true},
		{"utm.gpkg", []string{"-f", "GPKG", "-t_srs", "EPSG:32613"}, 1e-8, true},
		{"a.fgb", []string{"-f", "FlatGeobuf"}, 1e-9, true},
		{"a.shp", []string{"-f", "ESRI Shapefile", "-lco", "ENCODING=UTF-8"}, 1e-9, true},
		{"feet.shp", []string{"-f", "ESRI Shapefile", "-t_srs", "EPSG:2232", "-lco", "ENCODING=UTF-8"}, 2e-5, true}, // NAD83
		{"a.kml", []string{"-f", "KML"}, 1e-9, false},
		{"a.gpx", []string{"-f", "GPX", "-select", "name", "-dsco", "GPX_USE_EXTENSIONS=NO"}, 1e-9, false},
		{"tracks.gpx", []string{"-f", "GPX", "-select", "name", "-nlt", "MULTILINESTRING"}, 1e-9, false},
		{"a.geojsonl", []string{"-f", "GeoJSONSeq"}, 1e-7, true},
		{"rs.geojsonl", []string{"-f", "GeoJSONSeq", "-lco", "RS=YES"}, 1e-7, true},
		{"bom.json", []string{"-f", "GeoJSON", "-lco", "RFC7946=YES"}, 1e-7, true},
		{"noext", []string{"-f", "GeoJSON"}, 1e-9, true},
	}
	for _, c := range cases {
		t.Run(c.file, func(t *testing.T) {
			out := filepath.Join(dir, c.file)
			run(t, "ogr2ogr", append(c.args, out, src)...)
			if c.file == "bom.json" {
				b, err := os.ReadFile(out)
				if err != nil {
					t.Fatal(err)
				}
				write(t, out, "\xef\xbb\xbf"+string(b))
			}
			got, skipped, err := readFile(out, Options{})
			if err != nil {
				t.Fatal(err)
			}
			if len(got) != 2 || len(skipped) != 0 {
				t.Fatalf("%d lines, skipped %v", len(got), skipped)
			}
			for i := range got {
				if got[i].Place != (routes.Place{File: out, Feature: i + 1}) {
					t.Errorf("place %v", got[i].Place)
				}
				if d := farthest(got[i].Line, want[i].Line); d > c.tol {
					t.Errorf("line %d is off by %g°", i, d)
				}
				if n := got[i].Tags["name"]; n != want[i].Tags["name"] {
					t.Errorf("name %q, want %q", n, want[i].Tags["name"])
				}
				if !c.tags {
					continue
				}
				if s := got[i].Tags["slope"]; (i == 0) != strings.HasPrefix(s, "6.25") || i == 1 && s != "" {
					t.Errorf("line %d: slope %q", i, s)
				}
				if l := got[i].Tags["lanes"]; (i == 0) != (l == "2") || i == 1 && l != "" {
					t.Errorf("line %d: lanes %q; null is not 0", i, l)
				}
			}
			if c.tags && !strings.HasSuffix(c.file, ".shp") && (len(got[0].Structures) != 1 || got[0].Structures[0].ToM != 250) {
				t.Errorf("structures %+v", got[0].Structures)
			}
		})
	}
}

func farthest(a, b orb.LineString) float64 {
	if len(a) != len(b) {
		return math.Inf(1)
	}
	d := 0.0
	for i := range a {
		d = math.Max(d, math.Hypot(a[i][0]-b[i][0], a[i][1]-b[i][1]))
	}
	return d
}

func TestOGRFaults(t *testing.T) {
	dir := t.TempDir()
	src := write(t, filepath.Join(dir, "in.geojson"), sample)
	gpkg := filepath.Join(dir, "two.gpkg")
	run(t, "ogr2ogr", "-f", "GPKG", "-nln", "north", gpkg, src)
	run(t, "ogr2ogr", "-f", "GPKG", "-append", "-nln", "south", gpkg, src)
	bare := filepath.Join(dir, "bare.shp")
	run(t, "ogr2ogr", "-f", "ESRI Shapefile", bare, src)
	if err := os.Remove(filepath.Join(dir, "bare.prj")); err != nil {
		t.Fatal(err)
	}
	local := filepath.Join(dir, "local.gpkg")
	run(t, "ogr2ogr", "-f", "GPKG", "-a_srs", `LOCAL_CS["site grid",UNIT["metre",1]]`, local, src)
	whole, err := os.ReadFile(gpkg)
	if err != nil {
		t.Fatal(err)
	}
	points := filepath.Join(dir, "points.gpkg")
	run(t, "ogr2ogr", "-f", "GPKG", "-dialect", "sqlite", "-sql", "SELECT ST_StartPoint(geometry) AS geometry, name FROM \"in\"", "-nlt", "POINT", points, src)
	fgb := filepath.Join(dir, "cut.fgb")
	run(t, "ogr2ogr", "-f", "FlatGeobuf", fgb, src)
	b, err := os.ReadFile(fgb)
	if err != nil {
		t.Fatal(err)
	}
	write(t, fgb, string(b[:len(b)-40]))

	cases := []struct {
		path, layer string
		kind        error
		says        []string
	}{
		{gpkg, "", terrain.ErrInput, []string{`"north"`, `"south"`, "--layer"}},
		{gpkg, "west", terrain.ErrInput, []string{`"west"`, `"north"`}},
		{bare, "", terrain.ErrNoCRS, []string{".prj"}},
		{local, "", terrain.ErrNoCRS, nil},
		{points, "", terrain.ErrInput, []string{"lines"}},
		{fgb, "", terrain.ErrRead, nil},
		{write(t, filepath.Join(dir, "cut.gpkg"), string(whole[:len(whole)/3])), "north", terrain.ErrRead, nil},
		{write(t, filepath.Join(dir, "road.txt"), "not a road\n"), "", terrain.ErrRead, []string{"GeoPackage"}},
		{write(t, filepath.Join(dir, "road.gpx"), "<gpx><trk><trkseg><trkpt lat="), "", terrain.ErrRead, nil},
		{write(t, filepath.Join(dir, "empty.gpkg"), ""), "", terrain.ErrInput, []string{"empty"}},
		{write(t, filepath.Join(dir, "v.vrt"), `<OGRVRTDataSource><OGRVRTLayer name="in"><SrcDataSource>in.geojson</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>`), "", terrain.ErrRead, nil},
		{filepath.Join(dir, "nothing.gpkg"), "", terrain.ErrRead, []string{"no such file"}},
		{dir, "", terrain.ErrInput, []string{"folder"}},
		{"https://example.com/roads.gpkg", "", terrain.ErrInput, []string{"remote"}},
		{"/vsicurl/https://example.com/roads.gpkg", "", terrain.ErrInput, []string{"remote"}},
		{"GPKG:" + gpkg + ":north", "", terrain.ErrRead, []string{"no such file"}},
	}
	for _, c := range cases {
		fs, _, err := readFile(c.path, Options{Layer: c.layer})
		if !errors.Is(err, c.kind) {
			t.Errorf("%s %q: %v, want %v", c.path, c.layer, err, c.kind)
			continue
		}
		var f *routes.Fault
		if !errors.As(err, &f) || f.File != c.path || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: not one line with the file: %v", c.path, err)
		}
		for _, s := range c.says {
			if !strings.Contains(err.Error(), s) {
				t.Errorf("%s: %v; does not say %s", c.path, err, s)
			}
		}
		if len(fs) > 0 && c.path != fgb {
			t.Errorf("%s: %d lines", c.path, len(fs))
		}
	}
	if fs, _, err := readFile(gpkg, Options{Layer: "south"}); err != nil || len(fs) != 2 {
		t.Errorf("layer south: %d lines, %v", len(fs), err)
	}
}

func TestGPXTracksBeforeRoutes(t *testing.T) {
	dir := t.TempDir()
	seg := func(lon string) string {
		return `<trkseg><trkpt lat="46.1" lon="` + lon + `"><ele>900</ele></trkpt><trkpt lat="46.2" lon="` + lon + `"/></trkseg>`
	}
	gpx := func(rte string) string {
		return `<?xml version="1.0"?><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">` +
			`<wpt lat="46" lon="8"><name>top</name></wpt>` + rte + `</gpx>`
	}
	rte := `<rte><name>plan</name><rtept lat="46" lon="8"/><rtept lat="46.1" lon="8"/></rte>`
	both := write(t, filepath.Join(dir, "both.gpx"), gpx(rte+`<trk><name>drive</name>`+seg("8.1")+seg("8.2")+`</trk>`))
	fs, skipped, err := readFile(both, Options{})
	if err != nil || len(fs) != 2 || fs[0].Tags["name"] != "drive" || fs[1].Line[0] != (orb.Point{8.2, 46.1}) {
		t.Fatalf("%v %v", fs, err)
	}
	if len(skipped) != 1 || !strings.Contains(skipped[0].Why, "routes") {
		t.Errorf("skipped %v", skipped)
	}
	plan := write(t, filepath.Join(dir, "plan.gpx"), gpx(rte))
	if fs, _, err := readFile(plan, Options{}); err != nil || len(fs) != 1 || fs[0].Tags["name"] != "plan" {
		t.Fatalf("%v %v", fs, err)
	}
	if fs, _, err := readFile(both, Options{Layer: "routes"}); err != nil || len(fs) != 1 {
		t.Fatalf("%v %v", fs, err)
	}
}

// XML that grows without end is refused; an entity that names another file
// brings nothing of it.
func TestHostileXML(t *testing.T) {
	dir := t.TempDir()
	secret := write(t, filepath.Join(dir, "secret.txt"), "SECRET")
	doc := func(entities, name string) string {
		return `<?xml version="1.0"?><!DOCTYPE gpx [` + entities + `]><gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>` +
			name + `</name><trkseg><trkpt lat="46.1" lon="8"/><trkpt lat="46.2" lon="8"/></trkseg></trk></gpx>`
	}
	entities := `<!ENTITY a0 "` + strings.Repeat("x", 80) + `">`
	for i := 1; i < 9; i++ {
		entities += fmt.Sprintf(`<!ENTITY a%d "%s">`, i, strings.Repeat(fmt.Sprintf("&a%d;", i-1), 10))
	}
	bomb := write(t, filepath.Join(dir, "bomb.gpx"), doc(entities, "&a8;"))
	if _, _, err := readFile(bomb, Options{}); !errors.Is(err, terrain.ErrRead) {
		t.Errorf("entities without end: %v", err)
	}
	other := write(t, filepath.Join(dir, "other.gpx"), doc(`<!ENTITY a SYSTEM "file://`+secret+`">`, "x&a;y"))
	fs, _, err := readFile(other, Options{})
	if err == nil && (len(fs) != 1 || strings.Contains(fs[0].Tags["name"], "SECRET")) {
		t.Errorf("another file came in: %v", fs)
	}
}

// Remote files are read only when asked for, and a vanished one is named.
func TestRemote(t *testing.T) {
	dir := t.TempDir()
	src := write(t, filepath.Join(dir, "in.geojson"), sample)
	run(t, "ogr2ogr", "-f", "GPKG", filepath.Join(dir, "a.gpkg"), src)
	srv := httptest.NewServer(http.FileServer(http.Dir(dir)))
	defer srv.Close()
	for _, name := range []string{"in.geojson", "a.gpkg"} {
		url := srv.URL + "/" + name
		if _, _, err := readFile(url, Options{}); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s without being asked: %v", name, err)
		}
		fs, skipped, err := readFile(url, Options{AllowRemote: true})
		if err != nil || len(fs) != 2 || len(skipped) != 0 || fs[0].Tags["name"] != "Kestrel Road" || len(fs[0].Structures) != 1 {
			t.Errorf("%s: %d lines, %v, %v", name, len(fs), skipped, err)
		}
	}
	gone := srv.URL + "/gone.gpkg"
	if _, _, err := readFile(gone, Options{AllowRemote: true}); !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), "gone.gpkg") {
		t.Errorf("gone: %v", err)
	}
}
