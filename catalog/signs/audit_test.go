package signs

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

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
					return fmt.Sprintf("%s[%g]", c, *p.LengthM/catalog.MileM)
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
			x.Sites = []catalog.Site{siteAt(catalog.BrakeCheck, "", x.Profile.LengthM-700, routes.Backward), siteAt(catalog.EscapeRamp, "", x.Profile.LengthM-7600, routes.Backward)}
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
			return p.StationM + 45, 0, true // 30 m, 10 m of bound and 10 m of the standing sign's own
		})
		if got := audit(t, s, geo); len(got) != faults {
			t.Errorf("%q: %+v", grade, got)
		}
	}
	// 30 m of tolerance, 10 m of bound and 10 m of the standing sign's own: 53 m past is
	// misplaced, 53 m early too.
	for _, off := range []float64{-53, 53} {
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
