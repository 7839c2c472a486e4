package signs

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// The placements of the invented pass, worked by hand: the crest is at station
// 1,000 m and the slowest class holds 22 mph; 55 to 22 mph asks for
// 201.67 + (80.67² − 32.27²)/20 − 250 = 224.9 ft, so 225 ft or 68.6 m, which is moved
// upstream to stand 100 ft before the gear sign at 960 m; repeats a
// mile apart; the bend of 60 m at 25 mph asks for 208.3 ft, so 225 ft; the ramp's
// signs a mile and half a mile before station 7,600 m.
func TestPlacementsOfThePass(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	at := map[string][]float64{}
	for _, p := range s.Placements {
		at[p.Role] = append(at[p.Role], p.StationM)
	}
	for role, want := range map[string][]float64{
		RoleAdvance: {960 - 100*catalog.FootM}, RoleRepeat: {1000 + catalog.MileM, 1000 + 2*catalog.MileM, 1000 + 3*catalog.MileM, 1000 + 4*catalog.MileM},
		RoleRampAdvance: {7600 - catalog.MileM, 7600 - catalog.MileM/2}, RoleRamp: {7600}, RoleCheck: {700}, RoleCheckAdvance: {700 - catalog.MileM}, RoleGear: {960}, RolePanel: {1000 - catalog.MileM},
	} {
		if len(at[role]) != len(want) {
			t.Errorf("%s: %v, want %v", role, at[role], want)
			continue
		}
		for i := range want {
			if math.Abs(at[role][i]-want[i]) > 0.01 {
				t.Errorf("%s: %v, want %v", role, at[role], want)
			}
		}
	}
	// The bend of 60 m starts within a station of 6,200 m.
	if c := at[RoleCurve]; len(c) != 2 || math.Abs(c[1]-(6210-225*catalog.FootM)) > 10.01 {
		t.Errorf("curves at %v", c)
	}
}

// Conflicts are shown: a repeat in the tunnel with the way out of it, a sign
// behind the tight bend, one beyond the line, two too close.
func TestConflictsAreShown(t *testing.T) {
	in := passDescent()
	in.Sites = append(in.Sites, siteAt(catalog.BrakeCheck, "Beside the gear sign", 975, routes.Forward), siteAt(catalog.BrakeCheck, "Past the bend", 6290, routes.Forward))
	s := plan(t, in, "us-2023")
	kinds := map[string]int{}
	for _, p := range s.Placements {
		for _, c := range p.Conflicts {
			kinds[c.Kind]++
			if c.Words == "" {
				t.Errorf("%+v", c)
			}
			if c.Kind == ConflictTunnel && (c.MoveToM == nil || *c.MoveToM != 3890) {
				t.Errorf("the way out of the tunnel: %v", c.MoveToM)
			}
			if c.Kind == ConflictOffLine && (p.OnLine || p.LonDeg != 0) {
				t.Errorf("beyond the line with a place: %+v", p)
			}
		}
	}
	for _, want := range []string{ConflictTunnel, ConflictShadow, ConflictOffLine} {
		if kinds[want] == 0 {
			t.Errorf("no conflict %q among %v", want, kinds)
		}
	}
	if kinds[ConflictClose] != 0 {
		t.Errorf("%d signs too close were left so", kinds[ConflictClose])
	}
	bridged := passDescent()
	bridged.Profile.Structures = []routes.Structure{{Kind: routes.Bridge, FromM: 2600, ToM: 2700}}
	found := false
	for _, p := range plan(t, bridged, "us-2023").Placements {
		for _, c := range p.Conflicts {
			found = found || c.Kind == ConflictBridge && p.Role == RoleRepeat
		}
	}
	if !found {
		t.Error("a sign on a bridge is not shown")
	}
	// Traffic Signs Manual chapter 4 (2013), 6.7: repeats not at less than 550 m
	// unless the gradient increases by 5 % or more. Published.
	for extra, want := range map[float64]bool{4.5: true, 12: false} {
		p := road(0, leg{500, 0, 0}, leg{400, 10, 0}, leg{400, 10 + extra, 0}, leg{500, 10, 0}, leg{500, 0, 0})
		in := Input{Descent: descent(p, 500, 1800), Profile: p, ApproachSpeedMPS: 30 * mph, Choices: map[string]string{"figure": "mean"}}
		soon := false
		for _, q := range plan(t, in, "uk-2013").Placements {
			for _, c := range q.Conflicts {
				soon = soon || c.Kind == ConflictRepeat && q.Role == RoleSteepest
			}
		}
		if soon != want {
			t.Errorf("%g %% steeper: repeated too soon is %t", extra, soon)
		}
	}
}

// Reversing the line changes stations and direction and nothing else.
func TestReversedLine(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g1 := rapid.Float64Range(4, 12).Draw(t, "g1")
		g2 := rapid.Float64Range(4, 12).Draw(t, "g2")
		r := rapid.SampledFrom([]float64{0, 80, -150}).Draw(t, "radius")
		id := rapid.SampledFrom([]string{"us-2023", "uk-2013", "haul-road"}).Draw(t, "set")
		p := road(0.3, leg{500, 0, 0}, leg{900, g1, 0}, leg{100, g1, r}, leg{1200, g2, 0}, leg{500, 0, 0})
		q := reversed(p)
		rs, err := FindRuleSet(id)
		if err != nil {
			t.Fatal(err)
		}
		a, err := Plan(Input{Descent: descent(p, 500, 2700), Profile: p, ApproachSpeedMPS: 20}, rs)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Plan(Input{Descent: descent(q, p.LengthM-500, p.LengthM-2700), Profile: q, ApproachSpeedMPS: 20}, rs)
		if err != nil {
			t.Fatal(err)
		}
		if len(a.Placements) != len(b.Placements) {
			t.Fatalf("%d signs, %d reversed", len(a.Placements), len(b.Placements))
		}
		for i, x := range a.Placements {
			y := b.Placements[i]
			if x.Designation != y.Designation || x.Legend != y.Legend || math.Abs(x.StationM-(p.LengthM-y.StationM)) > 1e-6 || x.Side != y.Side {
				t.Fatalf("%+v\n%+v", x, y)
			}
		}
	})
}

// Steeper is never less warranted.
func TestSteeperNeverLess(t *testing.T) {
	rank := map[Verdict]int{NotWarranted: 0, CantTell: 1, Warranted: 2}
	sets, err := RuleSets()
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		g := rapid.Float64Range(3, 14).Draw(t, "grade")
		l := 10 * float64(rapid.IntRange(15, 200).Draw(t, "length"))
		e := rapid.Float64Range(0, 2).Draw(t, "bound")
		for _, rs := range sets {
			best := func(g float64) int {
				s, err := Plan(hillOf(e, l, g), rs)
				if err != nil {
					t.Fatal(err)
				}
				n := 0
				for _, st := range s.Stretches {
					n = max(n, rank[st.Verdict])
				}
				return n
			}
			if best(g+0.5) < best(g) {
				t.Fatalf("%s: %g %% over %g m: steeper is less warranted", rs.ID, g, l)
			}
		}
	})
}

// A heavier line of the panel never shows a higher speed, whatever the holds say,
// and speeds are rounded down.
func TestPanel(t *testing.T) {
	holds := []catalog.Hold{
		{Class: "c", MassKg: 60000, Holds: true, SpeedMPS: 12}, {Class: "a", MassKg: 20000, Holds: true, SpeedMPS: 20}, {Class: "b", MassKg: 40000, Holds: true, SpeedMPS: 11},
		{Class: "e", MassKg: 90000, Holds: true, SpeedMPS: 5}, {Class: "d", MassKg: 80000},
	}
	// b and c share 24 mph, d and e share no line that holds.
	want := []PanelRow{
		{Class: "a", Classes: []string{"a"}, MassKg: 20000, Holds: true, SpeedMPS: 44 * mph, Legend: "up to 44,000 lb: 44 mph"},
		{Class: "c", Classes: []string{"b", "c"}, MassKg: 60000, Holds: true, SpeedMPS: 24 * mph, Legend: "up to 132,200 lb: 24 mph"},
		{Class: "e", Classes: []string{"d", "e"}, MassKg: 90000, Legend: "over 132,200 lb: not this hill"},
	}
	if rows := panel(holds, "us"); !reflect.DeepEqual(rows, want) {
		t.Errorf("%+v", rows)
	}
	if lowest := slowestMPS(holds, "us"); math.Abs(lowest-11*mph) > 1e-9 { // 5 m/s is 11.2 mph
		t.Errorf("lowest %g", lowest)
	}
}

// A panel has at most five lines: of seven speeds the two of the lightest go, and the
// panel is of one country's classes, or of those that are named.
func TestPanelIsShortAndOfOneCountry(t *testing.T) {
	in := passDescent()
	in.Holds = nil
	for i := range 7 {
		in.Holds = append(in.Holds, catalog.Hold{Class: fmt.Sprintf("us-%d", i), MassKg: 20000 + 5000*float64(i), Holds: true, Gear: 5, SpeedMPS: (50 - 3*float64(i)) * mph, GearByM: 980})
	}
	in.Holds = append(in.Holds, catalog.Hold{Class: "ca-heavy", MassKg: 63500, Holds: true, Gear: 3, SpeedMPS: 15 * mph, GearByM: 980})
	s := plan(t, in, "us-2023")
	if len(s.Panel) != 5 || s.Panel[0].Class != "us-2" || s.Panel[4].Class != "us-6" {
		t.Errorf("%+v", s.Panel)
	}
	if math.Abs(s.AdvisedMPS-15*mph) > 1e-9 { // advance distances are for the slowest of all
		t.Errorf("advised %g m/s", s.AdvisedMPS)
	}
	notes := strings.Join(s.Notes, "\n")
	for _, says := range []string{"Class us-0 at 44,000 lb has no line of its own", "for 7 of 8 classes"} {
		if !strings.Contains(notes, says) {
			t.Errorf("no %q in\n%s", says, notes)
		}
	}
	in.PanelClasses = []string{"ca-heavy", "us-6"}
	if s := plan(t, in, "us-2023"); len(s.Panel) != 2 || s.Panel[1].Legend != "up to 139,900 lb: 15 mph" {
		t.Errorf("%+v", s.Panel)
	}
	in.PanelClasses = []string{"none"}
	if _, err := Plan(in, ruleSet(t, "us-2023")); !errors.Is(err, catalog.ErrClass) {
		t.Errorf("%v", err)
	}
	in.PanelClasses = make([]string, 6)
	if _, err := Plan(in, ruleSet(t, "us-2023")); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("%v", err)
	}
}

// What a panel says of a class that show holds is said why.
func TestPanelSaysWhyItKeepsAHeldClassOff(t *testing.T) {
	in := passDescent()
	in.Holds = []catalog.Hold{{Class: "us-a", MassKg: 46494, Gear: 0}, {Class: "us-b", MassKg: 46500, Holds: true, Gear: 4, SpeedMPS: 20 * mph, GearByM: 980}}
	s := plan(t, in, "us-2023")
	if len(s.Panel) != 1 || s.Panel[0].Legend != "trucks: not this hill" {
		t.Errorf("%+v", s.Panel)
	}
	if notes := strings.Join(s.Notes, "\n"); !strings.Contains(notes, "Class us-b at 102,500 lb holds 20 MPH on this hill; the panel bars it") {
		t.Errorf("%s", notes)
	}
}

func TestPlanRefuses(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	for name, c := range map[string]struct {
		edit func(*Input)
		kind error
		says string
	}{
		"a choice that is not asked": {func(in *Input) { in.Choices = map[string]string{"colour": "red"} }, terrain.ErrInput, "between-rows"},
		"an answer that is none":     {func(in *Input) { in.Choices = map[string]string{"bench": "perhaps"} }, terrain.ErrInput, "bridge, split"},
		"no approach speed":          {func(in *Input) { in.ApproachSpeedMPS = 0 }, terrain.ErrInput, "55mph"},
		"an impossible speed":        {func(in *Input) { in.ApproachSpeedMPS = math.NaN() }, terrain.ErrInput, "speed"},
		"no profile":                 {func(in *Input) { in.Profile = nil }, terrain.ErrInput, "profile"},
		"a wrong direction":          {func(in *Input) { in.Descent.Direction = routes.Backward }, terrain.ErrInput, "stations"},
		"a gap":                      {func(in *Input) { in.Profile.ElevationM[300] = math.NaN() }, terrain.ErrVoid, "station"},
		"a descent beyond the line":  {func(in *Input) { in.Descent.EndM = 1e6 }, terrain.ErrVoid, "station"},
		"no bound":                   {func(in *Input) { in.Profile.Bound = routes.ErrorModel{} }, terrain.ErrInput, "bound"},
	} {
		in := passDescent()
		c.edit(&in)
		if _, err := Plan(in, rs); !errors.Is(err, c.kind) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// The posted limit at the crest stands in for an approach speed; a limit for
	// trucks or for the other direction does not.
	in := passDescent()
	in.ApproachSpeedMPS = 0
	in.Limits = []routes.SpeedLimit{{FromM: 0, ToM: 2000, SpeedMPS: 20, Forward: true}, {FromM: 0, ToM: 2000, SpeedMPS: 30, Backward: true}, {FromM: 0, ToM: 2000, SpeedMPS: 25, Forward: true, TruckOnly: true}}
	if s := plan(t, in, "us-2023"); s.ApproachMPS != 20 {
		t.Errorf("approach %g m/s", s.ApproachMPS)
	}
}

// A profile out of a catalogue reads as reliable throughout: the descent's flag must
// do to say that it is not.
func TestAnUnreliableDescentIsSaidOnItsSchedule(t *testing.T) {
	said := func(flags ...string) bool {
		in := passDescent()
		in.Descent.Flags = flags
		return strings.Contains(strings.Join(plan(t, in, "us-2023").Notes, "\n"), "not reliable")
	}
	if said() || !said(routes.FlagUnreliable) {
		t.Errorf("reliable: said %v; unreliable: said %v", said(), said(routes.FlagUnreliable))
	}
}
