package main

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// edgeProps reads an edges overlay: properties by way, direction and station.
func edgeProps(t *testing.T, file string) []map[string]any {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		Features []struct{ Properties map[string]any }
	}
	if err := json.Unmarshal(b, &c); err != nil {
		t.Fatal(err)
	}
	var out []map[string]any
	for _, f := range c.Features {
		out = append(out, f.Properties)
	}
	return out
}

// The edges overlay tiles each way in each direction that may be driven, closes the
// hill downward and leaves it open upward, and goes into every format that a routing
// engine or an office reads.
func TestOverlayEdges(t *testing.T) {
	h := makeHill(t, 10.5, nil)
	net := h.writeWayRound(t, `,"oneway":"yes"`)
	cat := h.path("net.gpkg")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, net)
	file, table := h.path("edges.geojson"), h.path("edges.csv")
	gradeline(t, "overlay", "edges", "--class", "ca-btrain-63t", "--catalog", cat, "-o", file).want(t, exitDone)
	covered, held := map[string]float64{}, map[any]int{}
	for _, p := range edgeProps(t, file) {
		key := p["way_id"].(string)
		if p["reversed"] == true {
			key += " back"
		}
		covered[key] += number(t, p, "to_m") - number(t, p, "from_m")
		held[p["held"]]++
		if p["held"] == false && (p["why"] == "" || p["top_speed_mps"] != nil) {
			t.Errorf("not held without a reason, or with a speed: %v", p)
		}
	}
	if len(covered) != 3 || held[false] == 0 || held[true] == 0 {
		t.Errorf("ways and directions %v, held %v: want a one-way road, the other both ways", covered, held)
	}
	for key, m := range covered {
		if math.Abs(m-5400) > 60 && math.Abs(m-covered[strings.TrimSuffix(key, " back")]) > 1 {
			t.Errorf("%s: pieces over %v m", key, m)
		}
	}
	for _, format := range [][2]string{{"GPKG", "e.gpkg"}, {"FlatGeobuf", "e.fgb"}, {"ESRI Shapefile", "e.shp"}} {
		to := h.path(format[1])
		if out, err := exec.Command("ogr2ogr", "-f", format[0], to, file).CombinedOutput(); err != nil {
			t.Errorf("ogr2ogr, from Debian's gdal-bin, to %s: %v: %s", format[0], err, out)
		}
		out, err := exec.Command("ogrinfo", "-so", "-al", to).CombinedOutput()
		if err != nil || !strings.Contains(string(out), "Geometry: Line String") || !strings.Contains(string(out), "from_m: Real") {
			t.Errorf("%s: %v: %s", format[0], err, out)
		}
	}
	gradeline(t, "overlay", "edges", "--class", "ca-btrain-63t", "--catalog", cat, "-o", table).want(t, exitDone)
	f, err := os.Open(table)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 1+held[true]+held[false]+held[nil] || rows[0][0] != "way_id" {
		t.Errorf("CSV: %d rows, %v", len(rows), err)
	}
	// A catalogue without a network says so.
	r := gradeline(t, "overlay", "edges", "--class", "ca-btrain-63t", "--catalog", filepath.Join(demoDir(t), "demo.gpkg"), "-o", h.path("none.geojson"))
	if r.code != exitFailed || !strings.Contains(r.err, "--as-drawn") {
		t.Errorf("without a network: exit code %d, %s", r.code, r.err)
	}
}

// Where the ground is missing an edge is unknown, whatever else is known of it.
func TestOverlayEdgesOverMissingGround(t *testing.T) {
	h := makeHill(t, 6, func(xM, z float64) float64 {
		if xM > 3000 && xM < 4000 {
			return math.NaN()
		}
		return z
	})
	cat, file := h.path("net.gpkg"), h.path("edges.geojson")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, h.writeWayRound(t, ""))
	gradeline(t, "overlay", "edges", "--class", "us-5axle", "--catalog", cat, "-o", file)
	unknownM := 0.0
	for _, p := range edgeProps(t, file) {
		if p["held"] == nil {
			unknownM += number(t, p, "to_m") - number(t, p, "from_m")
			if p["heaviest_mass_kg"] != nil || p["why"] == "" {
				t.Errorf("unknown with a figure or without a reason: %v", p)
			}
		}
	}
	if unknownM < 4*900 {
		t.Errorf("%v m are unknown, want a kilometre of both roads both ways", unknownM)
	}
}
