package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every command that answers on standard output fails loudly where that is full (Linux:
// /dev/full), and quietly where nobody reads any more.
func TestAnAnswerThatNobodyGetsIsNoSuccess(t *testing.T) {
	dir := demoDir(t)
	file := func(name string) string { return filepath.Join(dir, name) }
	const hill = "veltrane-pass-road-f-4.7"
	for _, args := range [][]string{
		{"--help"}, {"show", "--help"}, {"--version"}, {}, {"manual"}, {"completion", "bash"}, {"doctor"}, {"doctor", "--json"}, {"doctor", "--notices"},
		{"hold", "--grade", "8%", "--length", "6mi", "--class", "us-5axle"}, {"hold", "--grade", "8%", "--length", "6mi", "--class", "us-5axle", "--json"},
		{"classes", "list"}, {"classes", "list", "--json"}, {"classes", "template"}, {"classes", "check", file("trucks.toml")},
		{"list"}, {"list", "--json"}, {"show", hill}, {"show", hill, "--json"}, {"review"}, {"review", hill, "--history"},
		{"compare", "--class", "us-5axle", "Veltrane Pass Road"}, {"practice", "--class", "us-5axle"}, {"practice", "--class", "us-5axle", "--json"},
		{"debrief", hill, file("drive.gpx"), "--class", "us-5axle"}, {"signs", hill, "--approach", "55mph"}, {"sites", "list"}, {"ramps", hill},
		{"overlay", "descents"}, {"overlay", "holds", "--class", "us-5axle"}, {"overlay", "avoid", "--class", "us-5axle"}, {"overlay", "signs", "--approach", "55mph"},
		{"overlay", "sites"}, {"overlay", "practice", "--class", "us-5axle"}, {"sheet", hill, "--class", "us-5axle"}, {"report"},
		{"merge", file("demo.gpkg"), "--catalog", file("other.gpkg"), "--dry-run"},
		{"survey", "--terrain", file("terrain.tif"), "--catalog", file("full.gpkg"), file("routes.geojson")},
		{"survey", "--terrain", file("terrain.tif"), "--catalog", file("full.gpkg"), "--json", file("routes.geojson")},
	} {
		if len(args) > 0 && args[0] == "merge" {
			b, err := os.ReadFile(file("demo.gpkg"))
			if err == nil {
				err = os.WriteFile(file("other.gpkg"), b, 0o644)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		if len(args) > 1 && args[1] == "check" {
			if err := os.WriteFile(args[2], []byte(gradeline(t, "classes", "template").want(t, exitDone).out), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		t.Setenv("GRADELINE_CATALOG", file("demo.gpkg"))
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		line := append([]string{"gradeline"}, args...)
		var said strings.Builder
		if code := run(context.Background(), line, strings.NewReader(""), full, &said); code != exitFailed || !strings.Contains(said.String(), "no space left") {
			t.Errorf("%v on a full disk: exit code %d, %q", args, code, said.String())
		}
		full.Close()
		r, w, err := os.Pipe()
		if err != nil {
			t.Fatal(err)
		}
		r.Close()
		said.Reset()
		if code := run(context.Background(), line, strings.NewReader(""), w, &said); code != exitFailed || strings.Contains(said.String(), "pipe") {
			t.Errorf("%v into a closed pipe: exit code %d, %q", args, code, said.String())
		}
		w.Close()
	}
}

// A change that is stored although its answer cannot be written says so: nobody makes it twice.
func TestALostAnswerSaysThatTheChangeIsStored(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(t.TempDir(), "c.gpkg")
	b, err := os.ReadFile(filepath.Join(dir, "demo.gpkg"))
	if err == nil {
		err = os.WriteFile(cat, b, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
	points := filepath.Join(t.TempDir(), "points.geojson")
	const point = `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"kind":"pullout","name":"Far lay-by"},"geometry":{"type":"Point","coordinates":[-40.0279,42.0017]}}]}`
	if err := os.WriteFile(points, []byte(point), 0o644); err != nil {
		t.Fatal(err)
	}
	const hill = "veltrane-pass-road-f-4.7"
	for _, tc := range []struct {
		change, ask []string
		want        string // in the answer afterwards; empty where nothing is stored
	}{
		{[]string{"sites", "import", points, "--by", "Ada"}, []string{"sites", "list"}, "Far lay-by"},
		{[]string{"review", hill, "--state", "field-checked", "--by", "Ada", "--note", "seen once"}, []string{"review", hill, "--history"}, "seen once"},
		{[]string{"classes", "fleet", "us-5axle", "--by", "Ada"}, []string{"classes", "fleet"}, "us-5axle"},
		{[]string{"merge", filepath.Join(dir, "demo.gpkg"), "--dry-run"}, []string{"sites", "list"}, ""},
	} {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		var said strings.Builder
		code := run(context.Background(), append(append([]string{"gradeline"}, tc.change...), "--catalog", cat), strings.NewReader(""), full, &said)
		full.Close()
		if code != exitFailed || strings.Contains(said.String(), "is stored in "+cat) != (tc.want != "") {
			t.Errorf("%v: exit code %d, %q", tc.change, code, said.String())
		}
		if got := gradeline(t, append(tc.ask, "--catalog", cat)...); !strings.Contains(got.out, tc.want) {
			t.Errorf("%v: not stored:\n%s", tc.change, got.out)
		}
	}
}
