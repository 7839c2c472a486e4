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

// inventory writes every sign of the schedule that is on the line as it is due,
// changed by edit: nil drops it.
func inventory(s Schedule, edit func(p Placement, tags map[string]string) (stationM, offsetM float64, keep bool), more ...string) string {
	features := more
	for _, p := range s.Placements {
		if !p.OnLine {
			continue
		}
		code := func(c string) string {
			switch s.rules.Shows[c] {
			case "grade":
				if p.GradePct != nil {
					return fmt.Sprintf("%s[%.0f]", c, *p.GradePct)
				}
			case "length":
				if p.LengthM != nil {
					return fmt.Sprintf("%s[%g]", c, *p.LengthM/mileM)
				}
			case "speed":
				if p.SpeedMPS != nil {
					return fmt.Sprintf("%s[%.0f]", c, *p.SpeedMPS/mph)
				}
			}
			return c
		}
		var codes []string
		for _, c := range append([]string{p.Designation}, p.Plaques...) {
			codes = append(codes, "US:"+code(c))
		}
		tags := map[string]string{"traffic_sign": strings.Join(codes, ","), "direction": s.Direction.String()}
		offset := 5.0
		if s.Direction == routes.Backward {
			offset = -5
		}
		station, o, keep := edit(p, tags)
		if o != 0 {
			offset = o
		}
		if keep {
			features = append(features, standingAt(s.line.p, station, offset, tags))
		}
	}
	return `{"type":"FeatureCollection","features":[` + strings.Join(features, ",") + `]}`
}

func audit(t *testing.T, s Schedule, geojson string) []Finding {
	t.Helper()
	standing, skipped, err := ParseStanding("signs.geojson", strings.NewReader(geojson))
	if err != nil || len(skipped) > 0 {
		t.Fatal(err, skipped)
	}
	located, away := Locate(standing, s.line.p, 50)
	if len(away) > 0 {
		t.Fatal(away)
	}
	return AuditStanding(s, located, AuditOptions{})
}

// An inventory exactly as due has no fault, in either direction of travel.
func TestAuditOfACleanInventory(t *testing.T) {
	in := passDescent()
	back := in
	back.Profile = reversed(in.Profile)
	back.Descent = descent(back.Profile, back.Profile.LengthM-1000, back.Profile.LengthM-9300)
	for _, x := range []Input{in, back} {
		if x.Descent.Direction == routes.Backward {
			x.Holds = append([]catalog.Hold(nil), x.Holds...)
			for i := range x.Holds {
				x.Holds[i].GearByM = x.Profile.LengthM - x.Holds[i].GearByM
			}
			x.Sites = []Site{{Kind: SiteBrakeCheck, StationM: x.Profile.LengthM - 700, Direction: routes.Backward}, {Kind: SiteEscapeRamp, StationM: x.Profile.LengthM - 7600, Direction: routes.Backward}}
		}
		s := plan(t, x, "us-2023")
		got := audit(t, s, inventory(s, func(p Placement, _ map[string]string) (float64, float64, bool) { return p.StationM, 0, true }))
		for _, f := range got {
			t.Errorf("%s: %+v", x.Descent.Direction, f)
		}
	}
}

// An invented inventory with ten faults: all found, and nothing else. Signs of
// other kinds, of the other direction and from an older edition stand among them.
func TestAuditFindsTenFaults(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	find := func(role string, k int) Placement {
		for _, p := range s.Placements {
			if p.Role == role {
				if k == 0 {
					return p
				}
				k--
			}
		}
		t.Fatalf("no sign %d of role %s", k, role)
		return Placement{}
	}
	advance, curve1, curve2 := find(RoleAdvance, 0), find(RoleCurve, 0), find(RoleCurve, 1)
	repeat1, repeat2, repeat3 := find(RoleRepeat, 0), find(RoleRepeat, 1), find(RoleRepeat, 2)
	ramp, halfMile, check := find(RoleRamp, 0), find(RoleRampAdvance, 1), find(RoleCheck, 0)
	type key struct {
		kind   string
		number int
	}
	want := map[key]string{
		{FindMissing, ramp.Number}:      "1: the ramp entrance has no sign",
		{FindMissing, repeat2.Number}:   "2: a repeat is gone",
		{FindMisplaced, advance.Number}: "3: the hill sign stands 180 m past its place",
		{FindMisplaced, curve2.Number}:  "4: a curve sign stands 120 m early",
		{FindMisplaced, check.Number}:   "5: the brake check sign is on the left",
		{FindFigure, repeat1.Number}:    "6: a repeat shows 5 %",
		{FindFigure, repeat3.Number}:    "7: a repeat shows 6 miles left",
		{FindFigure, curve1.Number}:     "8: a curve shows 50 mph",
		{FindSuperfluous, 0}:            "9 and 10: a second half-mile ramp sign, a curve sign on a straight",
	}
	geo := inventory(s, func(p Placement, tags map[string]string) (float64, float64, bool) {
		switch p.Number {
		case ramp.Number, repeat2.Number:
			return 0, 0, false
		case advance.Number:
			return p.StationM + 180, 0, true
		case curve2.Number:
			return p.StationM - 120, 0, true
		case check.Number:
			return p.StationM, -5, true
		case repeat1.Number:
			tags["traffic_sign"] = "US:W7-1a[5%],US:W7-3aP[4 miles]"
		case repeat3.Number:
			tags["traffic_sign"] = "US:W7-1a[8],US:W7-3aP[6]"
		case curve1.Number:
			tags["traffic_sign"] = "US:W1-4,US:W13-1P[50]"
		}
		return p.StationM, 0, true
	},
		standingAt(s.line.p, halfMile.StationM+60, 5, map[string]string{"traffic_sign": "US:W7-4", "direction": "forward"}),
		standingAt(s.line.p, 3300, 5, map[string]string{"designation": "W1-2; W13-1P", "speed": "45 mph", "direction": "forward"}),
		// not of this schedule: a deer sign, and a hill sign for the climb
		standingAt(s.line.p, 2000, 5, map[string]string{"traffic_sign": "US:W11-3", "direction": "forward"}),
		standingAt(s.line.p, 5000, -5, map[string]string{"traffic_sign": "US:W7-1", "direction": "backward"}))
	standing, _, err := ParseStanding("x", strings.NewReader(geo))
	if err != nil {
		t.Fatal(err)
	}
	located, _ := Locate(standing, s.line.p, 50)
	if left := Unjudged(s, located, AuditOptions{}); len(left) != 2 || left[0].Why != "the rule set has no sign W11-3" || left[1].Why != "faces backward travel" {
		t.Errorf("not judged: %+v", left)
	}
	got := audit(t, s, geo)
	n := 0
	for _, f := range got {
		t.Logf("%-12s sign %-2d %-7s station %5.0f m: %s", f.Kind, f.Number, f.Designation, f.StationM, f.Reason)
		if _, ok := want[key{f.Kind, f.Number}]; !ok {
			t.Errorf("not a fault of the inventory: %+v", f)
		}
		if f.Reason == "" {
			t.Errorf("no reason: %+v", f)
		}
		n++
	}
	if n != 10 {
		t.Errorf("%d findings, want 10", n)
	}
	for k, words := range want {
		found := 0
		for _, f := range got {
			if f.Kind == k.kind && f.Number == k.number {
				found++
			}
		}
		if k.kind == FindSuperfluous && found != 2 || k.kind != FindSuperfluous && found != 1 {
			t.Errorf("fault %s: found %d times", words, found)
		}
	}
	for _, f := range got {
		if f.Kind == FindMisplaced && f.Number == advance.Number && (f.OffByM == nil || math.Abs(*f.OffByM-180) > 1) {
			t.Errorf("misplaced by %v, want 180 m", f.OffByM)
		}
		if f.Kind == FindMisplaced && f.Number == curve2.Number && (f.OffByM == nil || math.Abs(*f.OffByM+120) > 1) {
			t.Errorf("misplaced by %v, want -120 m", f.OffByM)
		}
	}
	header, rows := FindingTable(got, catalog.US)
	if len(rows) != 10 || len(rows[0]) != len(header) {
		t.Errorf("table of %d rows", len(rows))
	}
}

// The same code meant another sign in the 2003 edition: W7-1a was the word HILL
// and W7-1b the symbol with the grade (MUTCD 2003, figure 2C-2; published).
func TestAuditReadsOlderDesignations(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	geo := inventory(s, func(p Placement, tags map[string]string) (float64, float64, bool) {
		if p.Designation == "W7-1a" {
			tags["edition"] = "2003"
			tags["traffic_sign"] = strings.ReplaceAll(strings.ReplaceAll(tags["traffic_sign"], "W7-1a", "W7-1b"), "W7-3aP", "W7-3a")
		}
		return p.StationM, 0, true
	})
	for _, f := range audit(t, s, geo) {
		t.Errorf("%+v", f)
	}
	// Without the edition the old code is not known, so those signs are missing.
	missing := 0
	for _, f := range audit(t, s, strings.ReplaceAll(geo, `"edition":"2003",`, "")) {
		if f.Kind == FindMissing {
			missing++
		}
	}
	if missing != 5 {
		t.Errorf("%d missing, want 5", missing)
	}
}

// Within the bound neither a figure nor a place is called wrong.
func TestAuditWithinTheBound(t *testing.T) {
	in := hillOf(0.3, 2500, 6.45) // shown 6, 7 within the bound
	s := plan(t, in, "us-2023")
	for grade, faults := range map[string]int{"6": 0, "7": 0, "5": 1, "1:15": 0, "x": 1} {
		geo := inventory(s, func(p Placement, tags map[string]string) (float64, float64, bool) {
			if p.Role == RoleAdvance {
				tags["traffic_sign"], tags["grade"] = "US:W7-1a", grade
			}
			return p.StationM + 35, 0, true // 30 m, and 10 m of bound
		})
		if got := audit(t, s, geo); len(got) != faults {
			t.Errorf("%q: %+v", grade, got)
		}
	}
	// 30 m of tolerance and 10 m of bound: 43 m past is misplaced, 43 m early too.
	for _, off := range []float64{-43, 43} {
		got := audit(t, s, inventory(s, func(p Placement, _ map[string]string) (float64, float64, bool) {
			if p.Role == RoleAdvance {
				return p.StationM + off, 0, true
			}
			return p.StationM, 0, true
		}))
		if len(got) != 1 || got[0].Kind != FindMisplaced || math.Abs(*got[0].OffByM-off) > 1 {
			t.Errorf("%g m: %+v", off, got)
		}
	}
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
	for text, want := range map[string]float64{"5": 5 * mileM, "1/2 mile": mileM / 2, "1 1/2 MILES": 1.5 * mileM, "800 m": 800, "500 yds": 457.2, "2 km": 2000, "x": -1, "1/0 mi": -1, "1 2 3 mi": -1} {
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
