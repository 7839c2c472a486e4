package overlay

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// Whatever the line, overlays conform, and the polygons are simple rings that
// hold every vertex of the line.
func TestAvoidPolygonsProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lat := rapid.Float64Range(-70, 70).Draw(t, "lat")
		lon := rapid.SampledFrom([]float64{-110, 8, 179.999, -179.999}).Draw(t, "lon")
		width := rapid.Float64Range(2, 40).Draw(t, "width")
		heading := rapid.Float64Range(0, 6.28).Draw(t, "heading")
		e := specimen.Entry(routes.Forward)
		e.Line = nil
		for i := range rapid.IntRange(2, 40).Draw(t, "vertices") {
			e.Line = append(e.Line, catalog.Vertex{LonDeg: math.Remainder(lon, 360), LatDeg: lat, ElevationM: float64(1000 - i), StationM: float64(i * 50)})
			heading += rapid.Float64Range(-2.8, 2.8).Draw(t, "turn")
			step := rapid.Float64Range(1, 120).Draw(t, "step")
			lat += step * math.Sin(heading) / 111000
			lon += step * math.Cos(heading) / (111000 * math.Cos(lat*math.Pi/180))
		}
		var b bytes.Buffer
		if err := AvoidOverlay(&b, []catalog.Entry{e}, "nobody", AvoidOptions{WidthM: width}); err != nil {
			t.Fatalf("%v", err)
		}
		d := conforms(t, b.Bytes())
		var rings [][][]float64
		for _, f := range d.Features {
			if f.Geometry.Type == "Polygon" {
				rings = append(rings, parts(t, "Polygon", f.Geometry.Coordinates)[0])
			}
		}
		for _, v := range e.Line {
			if !covered(rings, v) {
				t.Fatalf("vertex %v lies in none of %d rings", v, len(rings))
			}
		}
	})
}

// covered reports whether a place lies in a ring or within 0.1 m of its edge.
func covered(rings [][][]float64, v catalog.Vertex) bool {
	kx := 111000 * math.Cos(v.LatDeg*math.Pi/180)
	for _, ring := range rings {
		in := false
		for i := 1; i < len(ring); i++ {
			ax, ay := math.Remainder(ring[i-1][0]-v.LonDeg, 360)*kx, (ring[i-1][1]-v.LatDeg)*111000
			bx, by := math.Remainder(ring[i][0]-v.LonDeg, 360)*kx, (ring[i][1]-v.LatDeg)*111000
			if (ay > 0) != (by > 0) && ax-ay*(bx-ax)/(by-ay) > 0 {
				in = !in
			}
			dx, dy := bx-ax, by-ay
			t := math.Max(0, math.Min(1, -(ax*dx+ay*dy)/math.Max(dx*dx+dy*dy, 1e-12)))
			if math.Hypot(ax+t*dx, ay+t*dy) < 0.1 {
				return true
			}
		}
		if in {
			return true
		}
	}
	return false
}

// OGR, a reader that nobody here wrote, finds the same features, figures and
// vertices; and its GEOS calls every polygon valid.
func TestOGRReadsBack(t *testing.T) {
	es := specimen.Entries()
	dir := t.TempDir()
	ogr := func(file, sql string) [][]string {
		t.Helper()
		out, err := exec.Command("ogr2ogr", "-f", "CSV", "/vsistdout/", filepath.Join(dir, file), "-dialect", "SQLite", "-sql", sql).Output()
		if err != nil {
			t.Fatalf("ogr2ogr, from Debian's gdal-bin: %v", err)
		}
		rows, err := csv.NewReader(bytes.NewReader(out)).ReadAll()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %v, %d rows", sql, err, len(rows))
		}
		return rows[1:]
	}
	save := func(name string, b []byte) {
		if err := os.WriteFile(filepath.Join(dir, name), b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	save("d.geojson", write(t, func(w io.Writer) error { return DescentsOverlay(w, es) }))
	rows := ogr("d.geojson", `SELECT id, name, mean_downgrade_pct, ST_NPoints(geometry), GeometryType(geometry), ST_SRID(geometry) FROM d`)
	for i, r := range rows {
		want := []string{es[i].Descent.ID, es[i].Descent.Name, "", fmt.Sprint(len(es[i].Line)), "LINESTRING", "4326"}
		want[2] = r[2]
		var mean float64
		fmt.Sscan(r[2], &mean)
		if strings.Join(r, "|") != strings.Join(want, "|") || math.Abs(mean-es[i].Descent.MeanDowngradePct) > 1e-9 {
			t.Errorf("OGR reads %q, want %q and mean %g", r, want, es[i].Descent.MeanDowngradePct)
		}
	}
	if len(rows) != len(es) {
		t.Errorf("OGR reads %d descents of %d", len(rows), len(es))
	}
	// Roads whose polygon must be cut to stay simple: many bends, a loop that
	// crosses itself, switchbacks whose legs lie nearer than the polygon is wide.
	shapes := []func(s float64) (x, y float64){
		func(s float64) (float64, float64) { return 32 * math.Sin(s/40), s / 25 },
		func(s float64) (float64, float64) { return 60 * math.Sin(s/95), 60*math.Cos(s/95) + s/40 },
		func(s float64) (float64, float64) {
			leg := math.Floor(s / 300)
			x := s - leg*300
			if math.Mod(leg, 2) == 1 {
				x = 300 - x
			}
			return x, 14*leg + 6*x/300
		},
	}
	for i := range es {
		es[i].Holds = nil
		var line []catalog.Vertex
		for k := range 200 {
			x, y := shapes[i](float64(k) * 12)
			line = append(line, catalog.Vertex{LonDeg: -110 + x/80000, LatDeg: 44 + float64(i) + y/111000, StationM: float64(k) * 12})
		}
		es[i].Line = line
	}
	save("a.geojson", write(t, func(w io.Writer) error { return AvoidOverlay(w, es, "us-5axle", AvoidOptions{WidthM: 24}) }))
	n := 0
	for _, r := range ogr("a.geojson", `SELECT id, shape, ST_IsValid(geometry) AS valid FROM a WHERE shape='polygon'`) {
		n++
		if r[2] != "1" {
			t.Errorf("GEOS finds %s invalid", r[0])
		}
	}
	if n < 6 {
		t.Errorf("%d polygons for three roads of many hairpins", n)
	}
}

// What the class holds but the office has put in question is kept off too, as
// unknown and with no gear to act on.
func TestAvoidOverlayHoldsWhatIsInQuestion(t *testing.T) {
	asked := specimen.Entry(routes.Forward)
	asked.Review = catalog.Review{State: catalog.Approved, By: "R. Vane", InQuestion: "the class's figures were changed"}
	var b bytes.Buffer
	if err := AvoidOverlay(&b, []catalog.Entry{specimen.Entry(routes.Forward), asked}, "us-5axle", AvoidOptions{LinesOnly: true}); err != nil {
		t.Fatal(err)
	}
	var c struct {
		Gradeline struct{ Notes []string }
		Features  []struct{ Properties map[string]any }
	}
	if err := json.Unmarshal(b.Bytes(), &c); err != nil {
		t.Fatal(err)
	}
	says(t, "the notes", strings.Join(c.Gradeline.Notes, "\n"), "in question")
	if len(c.Features) != 1 {
		t.Fatalf("%d features, want the one in question", len(c.Features))
	}
	p := c.Features[0].Properties
	if p["answer"] != "unknown" || p["why"] != "its review is in question: the class's figures were changed" || p["gear"] != nil || p["speed_mps"] != nil || p["holds"] != nil || p["explanation_us"] != "" || p["one_gear_up"] != "" {
		t.Errorf("%v", p)
	}
}
