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
		for _, v := range inner(&e, width) {
			if !covered(rings, v) {
				t.Fatalf("vertex %v lies in none of %d rings", v, len(rings))
			}
		}
	})
}

// covered reports whether a place lies in a ring or within 0.1 m of its edge.
// inner are the vertices of a line that lie further from its ends than a polygon is
// trimmed there.
func inner(e *catalog.Entry, widthM float64) []catalog.Vertex {
	p := newPlane(e.Line)
	pts := p.points(e.Line)
	lengths := []float64{0}
	for i := 1; i < len(pts); i++ {
		lengths = append(lengths, lengths[i-1]+pts[i].minus(pts[i-1]).norm())
	}
	total := lengths[len(lengths)-1]
	cut := math.Min(trimM(widthM), total/3) + 0.01
	var out []catalog.Vertex
	if len(pts) != len(e.Line) {
		return nil // vertices that repeat
	}
	for i, at := range lengths {
		if at > cut && at < total-cut {
			out = append(out, e.Line[i])
		}
	}
	return out
}

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
	if err := AvoidOverlay(&b, []catalog.Entry{specimen.Entry(routes.Forward), asked}, "us-5axle", AvoidOptions{Shape: AvoidLines}); err != nil {
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
	if p["answer"] != "unknown" || p["why"] != "its review is in question: the class's figures were changed" || p["gear"] != nil || p["speed_mps"] != nil || p["holds"] != nil || p["explanation_us"] != nil || p["one_gear_up"] != nil {
		t.Errorf("%v", p)
	}
}

// Polygons meet no road that must stay open: one that begins at the crest, one that goes
// on at the foot, one that joins halfway, one that crosses on a bridge, and the other
// carriageway 12 m off. GEOS says so, through OGR; and every edge between two junctions
// is still closed.
func TestAvoidPolygonsTouchNoOtherRoad(t *testing.T) {
	const kx, ky = 80000.0, 111000.0 // metres a degree, near enough to draw by
	at := func(x, y, s float64) catalog.Vertex {
		return catalog.Vertex{LonDeg: -110 + x/kx, LatDeg: 44 + y/ky, StationM: s, ElevationM: 2000 - s*0.06}
	}
	wave := func(x float64) float64 { return 40 * math.Sin(x/150) }
	e := specimen.Entry(routes.Forward)
	e.Holds, e.Line = nil, nil
	var twin []catalog.Vertex
	for x := 0.0; x <= 3000; x += 15 {
		e.Line = append(e.Line, at(x, wave(x), x))
		twin = append(twin, at(x, wave(x)+14, x))
	}
	road := func(xy ...float64) []catalog.Vertex {
		var out []catalog.Vertex
		for i := 0; i < len(xy); i += 2 {
			out = append(out, at(xy[i], xy[i+1], 0))
		}
		return out
	}
	lines := [][]catalog.Vertex{
		road(-500, 30, 0, wave(0), 60, -300), road(3000, wave(3000), 3400, 90), road(3000, wave(3000), 2990, -400), // at crest and foot
		road(1200, wave(1200), 1300, -500), road(2010, -400, 2010, 400), twin,
	}
	others := []RoadLine{{e.Descent.Route, e.Line}} // its own route is no other road
	for i, l := range lines {
		others = append(others, RoadLine{fmt.Sprint("other ", i), l})
	}
	dir := t.TempDir()
	save := func(name string, b []byte) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var features []string
	for _, o := range lines {
		var c []string
		for _, v := range o {
			c = append(c, fmt.Sprintf("[%.8f,%.8f]", v.LonDeg, v.LatDeg))
		}
		features = append(features, `{"type":"Feature","properties":{},"geometry":{"type":"LineString","coordinates":[`+strings.Join(c, ",")+`]}}`)
	}
	roads := save("roads.geojson", []byte(`{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`))
	for _, width := range []float64{4, 10, 30} {
		polygons := save("p.geojson", write(t, func(w io.Writer) error {
			return AvoidOverlay(w, []catalog.Entry{e}, "nobody", AvoidOptions{WidthM: width, Others: others})
		}))
		one := func(sql string) string {
			out, err := exec.Command("ogr2ogr", "-f", "CSV", "/vsistdout/", polygons, "-dialect", "SQLite", "-sql", sql).CombinedOutput()
			if err != nil {
				t.Fatalf("ogr2ogr, from Debian's gdal-bin: %v: %s", err, out)
			}
			lines := strings.Split(string(out), "\n") // a header and one row
			return strings.Trim(lines[1], "\" ,")
		}
		if n := one(fmt.Sprintf(`SELECT count(*) AS n FROM p, '%s'.roads r WHERE ST_Intersects(p.geometry, r.geometry)`, roads)); n != "0" {
			t.Errorf("width %g m: %s polygons and other roads meet", width, n)
		}
		if n := one(`SELECT count(*) AS n FROM p WHERE NOT ST_IsValid(geometry)`); n != "0" {
			t.Errorf("width %g m: %s polygons are not valid", width, n)
		}
		var b bytes.Buffer
		if err := AvoidOverlay(&b, []catalog.Entry{e}, "nobody", AvoidOptions{WidthM: width, Others: others}); err != nil {
			t.Fatal(err)
		}
		var rings [][][]float64
		for _, f := range conforms(t, b.Bytes()).Features {
			rings = append(rings, parts(t, "Polygon", f.Geometry.Coordinates)[0])
		}
		for _, x := range []float64{600, 1500, 2500} { // between crest, the two junctions and the foot
			if !covered(rings, at(x, wave(x), x)) {
				t.Errorf("width %g m: the road is open at %g m", width, x)
			}
		}
	}
}

// The layers go into the formats that a map office uses, each column of its type.
func TestAvoidLayersConvert(t *testing.T) {
	es := specimen.Entries()
	for shape, geometry := range map[AvoidShape]string{AvoidLines: "Line String", AvoidPolygons: "Polygon"} {
		dir := t.TempDir()
		from := filepath.Join(dir, "avoid.geojson")
		if err := os.WriteFile(from, write(t, func(w io.Writer) error { return AvoidOverlay(w, es, "bc-btrain", AvoidOptions{Shape: shape}) }), 0o600); err != nil {
			t.Fatal(err)
		}
		for format, name := range map[string]string{"GPKG": "a.gpkg", "FlatGeobuf": "a.fgb", "ESRI Shapefile": "a.shp"} {
			to := filepath.Join(dir, name)
			if out, err := exec.Command("ogr2ogr", "-f", format, to, from).CombinedOutput(); err != nil {
				t.Fatalf("ogr2ogr to %s: %v: %s", format, err, out)
			}
			out, err := exec.Command("ogrinfo", "-so", "-al", to).CombinedOutput()
			if err != nil {
				t.Fatalf("ogrinfo %s: %v: %s", format, err, out)
			}
			for _, want := range []string{"Geometry: " + geometry, "drop_m: Real", "length_m: Real", "part: Integer", "answer: String", "mass_kg: Real"} {
				if !strings.Contains(string(out), want) {
					t.Errorf("%s lacks %q: %s", format, want, out)
				}
			}
		}
	}
}
