package signs

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// standingAt writes one sign of an invented inventory as GeoJSON: at a station,
// 5 m right of the line (left where side is negative).
func standingAt(p *routes.Profile, stationM, offsetM float64, tags map[string]string) string {
	a, b := p.PointAt(stationM-5), p.PointAt(stationM+5)
	at := p.PointAt(stationM)
	d := planM(a, b)
	l := math.Hypot(d[0], d[1])
	east, north := d[1]/l*offsetM, -d[0]/l*offsetM
	scale := planM(at, [2]float64{at[0] + 1e-4, at[1] + 1e-4})
	props, _ := json.Marshal(tags)
	return fmt.Sprintf(`{"type":"Feature","properties":%s,"geometry":{"type":"Point","coordinates":[%.8f,%.8f]}}`,
		props, at[0]+1e-4*east/scale[0], at[1]+1e-4*north/scale[1])
}

func TestParseStanding(t *testing.T) {
	in := `{"type":"FeatureCollection","features":[
	 {"type":"Feature","properties":{"traffic_sign":"GB:523.1[10%];GB:570[2 miles, then more]","side":"left","name":"Cwm"},"geometry":{"type":"Point","coordinates":[-3.5,52.1]}},
	 {"type":"Feature","properties":{"traffic_sign:forward":"US:W7-1","traffic_sign:backward":"US:W7-6"},"geometry":{"type":"Point","coordinates":[10,45,300]}},
	 {"type":"Feature","properties":{"designation":"W7-1a","grade":6,"direction":"backward"},"geometry":{"type":"Point","coordinates":[10,45]}},
	 {"type":"Feature","properties":{"highway":"crossing"},"geometry":{"type":"Point","coordinates":[10,45]}},
	 {"type":"Feature","properties":{"traffic_sign":"US:W7-1"},"geometry":{"type":"Point","coordinates":[10,145]}},
	 {"type":"Feature","properties":null,"geometry":{"type":"LineString","coordinates":[[10,45],[11,45]]}},
	 {"type":"Feature","properties":null,"geometry":null}]}`
	got, skipped, err := ParseStanding("x.geojson", strings.NewReader(in))
	if err != nil || len(got) != 4 || len(skipped) != 4 {
		t.Fatalf("%d signs, %d skipped, %v", len(got), len(skipped), err)
	}
	if g := got[0]; fmt.Sprintf("%v %v %s %s", g.Codes, g.Values, g.Side, g.Name) != "[523.1 570] [10% 2 miles, then more] left Cwm" {
		t.Errorf("%+v", g)
	}
	if *got[1].Facing != routes.Forward || *got[2].Facing != routes.Backward || *got[3].Facing != routes.Backward || got[3].Grade != "6" {
		t.Errorf("%+v", got[1:])
	}
	for _, s := range skipped {
		if s.Why == "" || !strings.Contains(s.Where, "feature") {
			t.Errorf("%+v", s)
		}
	}
	lines := `{"type":"Feature","properties":{"designation":"W7-1"},"geometry":{"type":"Point","coordinates":[1,2]}}` + "\n"
	if got, _, err := ParseStanding("-", strings.NewReader(lines+lines)); err != nil || len(got) != 2 {
		t.Errorf("a feature a line: %d, %v", len(got), err)
	}
	for _, bad := range []string{"", "[]", "{", `{"type":"Topology"}`, "null"} {
		if _, _, err := ParseStanding("bad.geojson", strings.NewReader(bad)); err == nil || !strings.HasPrefix(err.Error(), "bad.geojson: ") {
			t.Errorf("%q: %v", bad, err)
		}
	}
}

func TestFigureTexts(t *testing.T) {
	for text, want := range map[string]float64{"6": 6, "6%": 6, "-8 %": 8, "1:8": 12.5, "1 in 10": 10, "x": -1, "": -1, "1:0": -1, "1e2": -1} {
		g, ok := gradeFrom(text)
		if ok != (want >= 0) || ok && math.Abs(g-want) > 1e-9 {
			t.Errorf("grade %q: %g, %t", text, g, ok)
		}
	}
	for text, want := range map[string]float64{"5": 5 * catalog.MileM, "1/2 mile": catalog.MileM / 2, "1 1/2 MILES": 1.5 * catalog.MileM, "800 m": 800, "500 yds": 457.2, "2 km": 2000, "x": -1, "1/0 mi": -1, "1 2 3 mi": -1} {
		l, ok := lengthFrom(text, "us")
		if ok != (want >= 0) || ok && math.Abs(l-want) > 1e-6 {
			t.Errorf("length %q: %g, %t", text, l, ok)
		}
	}
	for text, want := range map[string]float64{"35": 35 * mph, "35 mph": 35 * mph, "50 km/h": 50 / 3.6, "fast": -1} {
		v, ok := speedFrom(text, "us")
		if ok != (want >= 0) || ok && math.Abs(v-want) > 1e-9 {
			t.Errorf("speed %q: %g, %t", text, v, ok)
		}
	}
}

// A sign's station is the nearest place of the line, its offset right positive.
func TestLocate(t *testing.T) {
	p := passDescent().Profile
	for _, c := range []struct{ stationM, offsetM float64 }{{15, 5}, {2604, -7}, {6183, 12}, {9000, 30}} {
		got, _, err := ParseStanding("x", strings.NewReader(standingAt(p, c.stationM, c.offsetM, map[string]string{"designation": "W7-1"})))
		if err != nil {
			t.Fatal(err)
		}
		at, away := Locate(got, p, 50)
		if len(away) > 0 || math.Abs(at[0].StationM-c.stationM) > 0.6 || math.Abs(at[0].OffsetM-c.offsetM) > 0.3 {
			t.Errorf("%+v: station %g, offset %g", c, at[0].StationM, at[0].OffsetM)
		}
		if _, away := Locate(got, p, 2); len(away) != 1 {
			t.Errorf("%+v: %d away", c, len(away))
		}
	}
}

func FuzzParseStanding(f *testing.F) {
	p := road(0.3, leg{500, 5, 0})
	f.Add([]byte(`{"type":"FeatureCollection","features":[` + standingAt(p, 100, 5, map[string]string{"traffic_sign": "US:W7-1a[6],W7-3aP[5]"}) + `]}`))
	f.Add([]byte(`{"type":"Feature","properties":{"designation":"[;],]["},"geometry":{"type":"Point","coordinates":[1e308,0]}}`))
	s, err := Plan(hillOf(0.3, 1500, 6), mustRules(f))
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		got, _, err := ParseStanding("x", bytes.NewReader(b))
		if err != nil {
			return
		}
		for _, g := range got {
			if len(g.Codes) == 0 || len(g.Codes) != len(g.Values) || len(g.Codes) > maxStandingCodes {
				t.Fatalf("%+v", g)
			}
		}
		located, _ := Locate(got, s.line.p, 1e7)
		AuditStanding(s, located, AuditOptions{})
	})
}

func mustRules(f *testing.F) RuleSet { return ruleSet(f, "us-2023") }
