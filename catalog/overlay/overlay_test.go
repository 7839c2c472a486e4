package overlay

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/routes"
	"gradeline/terrain"
)

// rfc is a GeoJSON document as RFC 7946 describes it.
type rfc struct {
	Type      string
	Gradeline map[string]any
	Features  []struct {
		Type, ID string
		Geometry struct {
			Type        string
			Coordinates json.RawMessage
		}
		Properties map[string]any
	}
}

// conforms checks a document against the sections of RFC 7946 (2016) named at
// each check, from memory.
func conforms(t interface {
	Helper()
	Fatalf(string, ...any)
}, b []byte) rfc {
	t.Helper()
	var top map[string]json.RawMessage
	if err := json.Unmarshal(b, &top); err != nil {
		t.Fatalf("no JSON: %v\n%s", err, b)
	}
	if len(top) != 3 || top["gradeline"] == nil {
		t.Fatalf("members of the collection: %v; wanted type, features and one foreign member", len(top))
	}
	if bytes.Contains(b, []byte(`"crs"`)) { // section 4: the crs member of 2008 is gone
		t.Fatalf("a crs member")
	}
	var d rfc
	if err := json.Unmarshal(b, &d); err != nil {
		t.Fatalf("%v", err)
	}
	if d.Type != "FeatureCollection" || d.Features == nil { // section 3.3
		t.Fatalf("type %q, features %v", d.Type, d.Features)
	}
	if len(d.Gradeline["cautions"].([]any)) != len(catalog.Cautions()) || d.Gradeline["schema"] != catalog.Schema {
		t.Fatalf("foreign member %v", d.Gradeline)
	}
	ids := map[string]bool{}
	for _, f := range d.Features {
		if f.Type != "Feature" || f.ID == "" || ids[f.ID] || f.Properties == nil { // section 3.2
			t.Fatalf("feature %q of type %q, seen before: %v", f.ID, f.Type, ids[f.ID])
		}
		ids[f.ID] = true
		if regexp.MustCompile(`\.\d{8}`).Match(f.Geometry.Coordinates) || bytes.ContainsAny(f.Geometry.Coordinates, "eE") {
			t.Fatalf("feature %s: more than seven decimals or an exponent", f.ID) // section 11.2
		}
		for _, part := range parts(t, f.Geometry.Type, f.Geometry.Coordinates) {
			for i, p := range part {
				if len(p) != 2 || math.Abs(p[0]) > 180 || math.Abs(p[1]) > 90 { // sections 3.1.1 and 4
					t.Fatalf("feature %s: position %v", f.ID, p)
				}
				if i > 0 && math.Abs(p[0]-part[i-1][0]) > 180 { // section 3.1.9
					t.Fatalf("feature %s crosses the antimeridian uncut", f.ID)
				}
			}
			if f.Geometry.Type != "Polygon" {
				if len(part) < 2 && f.Geometry.Type != "Point" { // section 3.1.4
					t.Fatalf("feature %s: a line of %d positions", f.ID, len(part))
				}
				continue
			}
			if n := len(part); n < 4 || part[0][0] != part[n-1][0] || part[0][1] != part[n-1][1] { // section 3.1.6
				t.Fatalf("feature %s: ring of %d not closed", f.ID, n)
			}
			if signedArea(part) <= 0 { // section 3.1.6, the right-hand rule
				t.Fatalf("feature %s: ring runs clockwise", f.ID)
			}
		}
	}
	return d
}

func parts(t interface{ Fatalf(string, ...any) }, kind string, c json.RawMessage) (out [][][]float64) {
	var err error
	switch kind {
	case "Point":
		out = [][][]float64{make([][]float64, 1)}
		err = json.Unmarshal(c, &out[0][0])
	case "LineString":
		out = make([][][]float64, 1)
		err = json.Unmarshal(c, &out[0])
	case "MultiLineString", "Polygon":
		err = json.Unmarshal(c, &out)
	default:
		t.Fatalf("geometry type %q", kind)
	}
	if err != nil {
		t.Fatalf("%v", err)
	}
	return out
}

func signedArea(ring [][]float64) float64 {
	a := 0.0
	for i := 1; i < len(ring); i++ { // from the first corner, so that close rings far out keep their digits
		a += (ring[i-1][0]-ring[0][0])*(ring[i][1]-ring[0][1]) - (ring[i][0]-ring[0][0])*(ring[i-1][1]-ring[0][1])
	}
	return a / 2
}

func TestOverlaysConform(t *testing.T) {
	es := specimen.Entries()
	d := conforms(t, keep(t, "descents.geojson", func(w io.Writer) error { return DescentsOverlay(w, es) }))
	if len(d.Features) != len(es) || d.Features[0].ID != "harrow-1f" {
		t.Fatalf("%d features, first %q", len(d.Features), d.Features[0].ID)
	}
	p := d.Features[0].Properties
	for _, key := range []string{"id", "route", "direction", "start_m", "end_m", "length_m", "drop_m", "mean_downgrade_pct", "mean_downgrade_err_pct",
		"steepest_100m_pct", "steepest_500m_pct", "steepest_1000m_pct", "crest_elevation_m", "foot_elevation_m", "tightest_radius_m", "interpolated_m", "flags", "holds"} {
		if _, ok := p[key]; !ok {
			t.Errorf("a descent's properties lack %s", key)
		}
	}
	if p["field_checked"] != false || p["review_state"] != "surveyed" || d.Gradeline["invented"] != true {
		t.Errorf("review or invented mark: %v", p)
	}
	// Lines run from crest to foot: heights fall, one for each vertex.
	es0 := p["vertex_elevation_m"].([]any)
	if n := len(parts(t, d.Features[0].Geometry.Type, d.Features[0].Geometry.Coordinates)[0]); len(es0) != n || len(p["vertex_station_m"].([]any)) != n {
		t.Errorf("%d heights for %d vertices", len(es0), n)
	}
	if es0[0].(float64) <= es0[len(es0)-1].(float64) {
		t.Error("the line does not run down")
	}
	if got := d.Features[2].Properties["name"]; got != specimen.HostileName {
		t.Errorf("name %q became %q", specimen.HostileName, got)
	}

	h := conforms(t, keep(t, "holds.geojson", func(w io.Writer) error { return HoldsOverlay(w, es, "us-5axle") }))
	want := []string{"holds", "unknown", "unknown"} // the second is unreliable, the third has no such hold
	for i, f := range h.Features {
		if f.Properties["answer"] != want[i] {
			t.Errorf("%s answers %v, want %s", f.ID, f.Properties["answer"], want[i])
		}
	}
	if h.Features[0].Properties["gear"] != 6.0 || h.Features[1].Properties["gear"] != nil || h.Features[1].Properties["holds"] != nil || h.Features[1].Properties["explanation_us"] != "" {
		t.Errorf("gears: %v, %v", h.Features[0].Properties, h.Features[1].Properties)
	}
	if all := conforms(t, write(t, func(w io.Writer) error { return HoldsOverlay(w, es, "") })); len(all.Features) != 5 {
		t.Errorf("%d holds of every class, want 5", len(all.Features))
	}
	conforms(t, write(t, func(w io.Writer) error { return DescentsOverlay(w, nil) }))
}

func TestAvoidTakesUnknownToo(t *testing.T) {
	es := specimen.Entries()
	for shape, name := range map[AvoidShape]string{AvoidLines: "LineString", AvoidPolygons: "Polygon"} {
		a := conforms(t, keep(t, "avoid-"+name+".geojson", func(w io.Writer) error { return AvoidOverlay(w, es, "us-5axle", AvoidOptions{Shape: shape}) }))
		closed := map[string]int{}
		for _, f := range a.Features {
			closed[fmt.Sprint(f.Properties["descent"])]++
			if f.Properties["direction"] != "forward" || f.Geometry.Type != name {
				t.Errorf("%s: direction %v, a %s in a layer of %ss", f.ID, f.Properties["direction"], f.Geometry.Type, name)
			}
			for k, v := range f.Properties {
				switch v.(type) {
				case string, float64, bool:
				default:
					t.Errorf("%s: %s = %v is of no one type", f.ID, k, v)
				}
			}
		}
		if closed["harrow-1f"] != 0 || closed["cinder-2f"] == 0 || closed["hostile-3f"] == 0 {
			t.Errorf("closed: %v; a descent that holds stays open, unreliable and unknown ones close", closed)
		}
	}
	es[1].Review.State = catalog.FieldChecked // somebody went there: now its hold counts
	lines := func() []string {
		var ids []string
		a := conforms(t, write(t, func(w io.Writer) error { return AvoidOverlay(w, es, "us-5axle", AvoidOptions{Shape: AvoidLines}) }))
		for _, f := range a.Features {
			ids = append(ids, f.ID)
		}
		return ids
	}
	if got := lines(); len(got) != 1 || got[0] != "hostile-3f/us-5axle/line" {
		t.Errorf("after the field check: %v", got)
	}
	es[2].Descent.Flags = append(es[2].Descent.Flags, routes.FlagAgainstOneWay)
	if got := lines(); len(got) != 0 {
		t.Errorf("a direction that nobody may drive is closed: %v", got)
	}
	for _, bad := range []struct {
		class string
		o     AvoidOptions
		kind  error
	}{{"", AvoidOptions{}, catalog.ErrClass}, {"x", AvoidOptions{WidthM: -1}, terrain.ErrInput}, {"x", AvoidOptions{WidthM: 1e6}, terrain.ErrInput}, {"x", AvoidOptions{WidthM: math.NaN()}, terrain.ErrInput}} {
		if err := AvoidOverlay(io.Discard, es, bad.class, bad.o); !errors.Is(err, bad.kind) {
			t.Errorf("class %q, width %g: %v", bad.class, bad.o.WidthM, err)
		}
	}
}

func TestOverlayRefuses(t *testing.T) {
	for name, spoil := range map[string]func(e *catalog.Entry){
		"no line":   func(e *catalog.Entry) { e.Line = nil },
		"off Earth": func(e *catalog.Entry) { e.Line[1].LatDeg = 91 },
		"NaN place": func(e *catalog.Entry) { e.Line[1].LonDeg = math.NaN() },
		"NaN drop":  func(e *catalog.Entry) { e.Descent.DropM = math.NaN() },
	} {
		e := specimen.Entry(routes.Forward)
		spoil(&e)
		err := DescentsOverlay(io.Discard, []catalog.Entry{e})
		if !errors.Is(err, terrain.ErrInput) && !errors.Is(err, catalog.ErrImpossible) || !strings.Contains(fmt.Sprint(err), "harrow-1f") {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A height that is missing at a vertex is null, not a failure and not zero.
	e := specimen.Entry(routes.Forward)
	e.Line[1].ElevationM = math.NaN()
	d := conforms(t, write(t, func(w io.Writer) error { return DescentsOverlay(w, []catalog.Entry{e}) }))
	if v := d.Features[0].Properties["vertex_elevation_m"].([]any); v[1] != nil || v[0] == nil {
		t.Errorf("heights %v", v[:3])
	}
}

func TestCutAtAntimeridian(t *testing.T) {
	v := func(lon, lat, h float64) catalog.Vertex {
		return catalog.Vertex{LonDeg: lon, LatDeg: lat, ElevationM: h, StationM: h * 10}
	}
	for name, c := range map[string]struct {
		in   []catalog.Vertex
		want string
	}{
		// The cut lies halfway, so do latitude and height.
		"across":         {[]catalog.Vertex{v(179.9, 52, 100), v(-179.9, 52.1, 80)}, "[[179.9 52 100] [180 52.05 90]] [[-180 52.05 90] [-179.9 52.1 80]]"},
		"westward":       {[]catalog.Vertex{v(-179.9, 52, 100), v(179.9, 52, 80)}, "[[-179.9 52 100] [-180 52 90]] [[180 52 90] [179.9 52 80]]"},
		"touching 180":   {[]catalog.Vertex{v(179.9, 52, 100), v(180, 52, 90), v(-179.9, 52, 80)}, "[[179.9 52 100] [180 52 90]] [[-180 52 90] [-179.9 52 80]]"},
		"ending at -180": {[]catalog.Vertex{v(179.9, 52, 100), v(-180, 52, 90)}, "[[179.9 52 100] [180 52 90]]"},
		"from 180":       {[]catalog.Vertex{v(180, 52, 100), v(-179.9, 52, 90)}, "[[-180 52 100] [-179.9 52 90]]"},
		"along it":       {[]catalog.Vertex{v(180, 52, 100), v(-180, 52.1, 90), v(179.9, 52.1, 80)}, "[[180 52 100] [180 52.1 90] [179.9 52.1 80]]"},
		"nowhere near":   {[]catalog.Vertex{v(-110, 44, 100), v(-110.1, 44, 90)}, "[[-110 44 100] [-110.1 44 90]]"},
		"there and back": {[]catalog.Vertex{v(179.9, 52, 100), v(-179.9, 52, 80), v(179.9, 52, 60)}, "[[179.9 52 100] [180 52 90]] [[-180 52 90] [-179.9 52 80] [-180 52 70]] [[180 52 70] [179.9 52 60]]"},
	} {
		l, err := cutLine(name, c.in)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		var got []string
		for _, part := range l {
			var ps []string
			for _, p := range part {
				ps = append(ps, fmt.Sprintf("[%.7g %.7g %.7g]", p.LonDeg, p.LatDeg, p.ElevationM))
			}
			got = append(got, "["+strings.Join(ps, " ")+"]")
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s:\n got %s\nwant %s", name, s, c.want)
		}
	}
}
