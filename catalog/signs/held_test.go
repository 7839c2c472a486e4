package signs

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// What legends show, by hand: metres to 50 and kilometres to 0.1, yards to 50, feet to
// 100, never less than one step; quarter miles from a fifth of a mile on.
func TestLengthsOnLegends(t *testing.T) {
	for _, c := range []struct {
		units string
		m     float64
		words string
		shown float64
	}{
		{"metric", 20, "50 m", 50}, {"metric", 130, "150 m", 150}, {"metric", 974, "950 m", 950}, {"metric", 976, "1.0 km", 1000}, {"metric", 2449, "2.4 km", 2400},
		{"uk", 10, "50 YDS", 45.72}, {"uk", 180, "200 YDS", 182.88}, {"us", 10, "100 FT", 30.48}, {"us", 140, "500 FT", 152.4},
		{"us", 0.6 * 1609.344, "1/2 MILE", 0.5 * 1609.344}, {"us", 1.2 * 1609.344, "1 MILE", 1609.344}, {"us", 1.3 * 1609.344, "1 1/2 MILES", 1.5 * 1609.344},
		{"us", 10.4 * 1609.344, "10 MILES", 16093.44},
	} {
		if words, shown := legendLength(c.units, c.m); words != c.words || math.Abs(shown-c.shown) > 1e-9 {
			t.Errorf("%s, %g m: %q, %g; want %q, %g", c.units, c.m, words, shown, c.words, c.shown)
		}
	}
}

// A bare number on a sign is miles or kilometres, as the signs of those units have it.
func TestABareLengthIsInTheSignsUnits(t *testing.T) {
	for units, want := range map[string]float64{"us": 2 * 1609.344, "uk": 2 * 1609.344, "metric": 2000} {
		if got, ok := lengthFrom("2", units); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("%s: %g, %v, want %g", units, got, ok, want)
		}
	}
}

// A length that a sign shows is wrong from 0.26 mi off: a quarter of a mile is rounding.
func TestAShownLengthMayBeAQuarterMileOff(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	a := &auditor{s: &s}
	mile := 1609.344
	for text, isWrong := range map[string]bool{"1 mi": false, "1.25 mi": false, "1.265 mi": true, "0.75 mi": false, "0.735 mi": true} {
		if why := a.wrongLength(&Placement{LengthM: &mile}, &Standing{Length: text}); (why != "") != isWrong {
			t.Errorf("%s: %q", text, why)
		}
	}
}

// A runaway that nobody gives figures for is one of 80,000 lb with a rolling resistance of
// 0.0053, a drag area of 5.5 m² and faded service brakes of 0.4 m/s².
func TestDefaultsOfARunaway(t *testing.T) {
	in := passDescent()
	run := func(ri RunawayInput) SpeedAt {
		ri.Descent, ri.Profile, ri.FromMPS = in.Descent, in.Profile, 11
		list, err := Runaway(ri)
		if err != nil {
			t.Fatal(err)
		}
		return list[len(list)-1]
	}
	given := RunawayInput{MassKg: 80000 * 0.45359237, RollingResistance: 0.0053, DragAreaM2: 5.5, FadedDecelMPS2: 0.4}
	if a, b := run(RunawayInput{}), run(given); math.Abs(a.FreeMPS-b.FreeMPS) > 1e-4 || math.Abs(a.FadedMPS-b.FadedMPS) > 1e-4 {
		t.Errorf("%+v with the defaults, %+v with the same given", a, b)
	}
}

func TestVariantsOfCurveSigns(t *testing.T) {
	rule := CurveRule{TurnUpToMPS: 30 * mph}
	for want, b := range map[string]bend{
		"turn": {curves: 1, speedMPS: 30 * mph}, "curve": {curves: 1, speedMPS: 35 * mph}, "reverse-turn": {curves: 2, opposite: true, speedMPS: 25 * mph},
		"reverse-curve": {curves: 2, opposite: true, speedMPS: 40 * mph}, "winding": {curves: 3, opposite: true, speedMPS: 40 * mph},
	} {
		if got := b.variant(rule); got != want {
			t.Errorf("%+v: %s, want %s", b, got, want)
		}
	}
	if got := (bend{curves: 2, speedMPS: 40 * mph}).variant(rule); got != "winding" {
		t.Errorf("two of one sense: %s", got)
	}
}

// Every sign on a structure says so, and no other does.
func TestSignsOnStructuresSayIt(t *testing.T) {
	in := passDescent()
	s := plan(t, in, "us-2023")
	n := 0
	for _, p := range s.Placements {
		want := ""
		for _, st := range in.Profile.Structures {
			if p.StationM >= st.FromM && p.StationM <= st.ToM {
				want = map[routes.StructureKind]string{routes.Bridge: ConflictBridge, routes.Tunnel: ConflictTunnel}[st.Kind]
			}
		}
		got := ""
		for _, c := range p.Conflicts {
			if c.Kind == ConflictBridge || c.Kind == ConflictTunnel {
				got = c.Kind
			}
		}
		if got != want {
			t.Errorf("sign %d at %g m: %q, want %q", p.Number, p.StationM, got, want)
		}
		if want != "" {
			n++
		}
	}
	if n == 0 {
		t.Error("no sign stands on a structure")
	}
}

// A sign for a site is there for its name, or for its kind where it has none.
func TestASiteIsNamedInItsSignsReason(t *testing.T) {
	in := passDescent()
	in.Sites = []catalog.Site{siteAt(catalog.EscapeRamp, "", 7600, routes.Forward), siteAt(catalog.BrakeCheck, "Summit turnout", 700, routes.Forward)}
	for _, p := range plan(t, in, "us-2023").Placements {
		switch p.Role {
		case RoleRamp:
			if !strings.HasPrefix(p.Why, "escape-ramp") {
				t.Errorf("%q", p.Why)
			}
		case RoleCheck:
			if !strings.HasPrefix(p.Why, "Summit turnout") {
				t.Errorf("%q", p.Why)
			}
		case RoleGear, RolePanel:
			if p.Need != NeedAdvice {
				t.Errorf("%s: %s", p.Role, p.Need)
			}
		case RoleAdvance:
			if p.Need != NeedWarranted {
				t.Errorf("%s: %s", p.Role, p.Need)
			}
		}
	}
}

// Posted limits at the crest in this direction count, those for trucks alone and those
// that end before it do not.
func TestTheApproachSpeedIsThePostedLimitAtTheCrest(t *testing.T) {
	in := passDescent()
	in.ApproachSpeedMPS = 0
	in.Limits = []routes.SpeedLimit{
		{FromM: 0, ToM: 1000, SpeedMPS: 20, Forward: true}, {FromM: 1000, ToM: 2000, SpeedMPS: 22, Forward: true},
		{FromM: 0, ToM: 9000, SpeedMPS: 30, Backward: true}, {FromM: 0, ToM: 9000, SpeedMPS: 31, Forward: true, TruckOnly: true}, {FromM: 0, ToM: 900, SpeedMPS: 32, Forward: true},
	}
	if s := plan(t, in, "us-2023"); s.ApproachMPS != 22 {
		t.Errorf("%g m/s", s.ApproachMPS)
	}
}

// Signs on both sides count twice, plaques with them; advice is to be decided on.
func TestQuantities(t *testing.T) {
	count := func(sides string) map[string]Quantity {
		in := passDescent()
		in.Choices = map[string]string{"sides": sides}
		s := plan(t, in, "us-2023")
		if err := s.PlanPosts(PostOptions{}); err != nil {
			t.Fatal(err)
		}
		out := map[string]Quantity{}
		faces, posts := Quantities([]Schedule{s})
		for _, q := range faces {
			out[q.Designation] = q
		}
		if header, rows := QuantityTable(faces, posts); len(rows) != len(faces)+1 || len(rows[0]) != len(header) || rows[len(rows)-1][0] != "posts" {
			t.Errorf("%q, %q", header, rows)
		}
		return out
	}
	near, both := count("near"), count("both")
	// one advance sign and four repeats, each with its plaque
	if q := near["W7-1a"]; q.Count[ActionInstall] != 5 || near["W7-3aP"].Count[ActionInstall] != 5 || !near["W7-3aP"].IsPlaque || q.Count[ActionDecide] != 0 {
		t.Errorf("%+v, %+v", q, near["W7-3aP"])
	}
	if q := near["W7-1"]; q.Count[ActionDecide] != 1 || q.Count[ActionInstall] != 0 { // the gear sign alone
		t.Errorf("%+v", q)
	}
	for d, q := range near {
		b := both[d]
		for _, a := range Actions {
			if b.Count[a] != 2*q.Count[a] {
				t.Errorf("%s: %+v on the near side, %+v on both", d, q, b)
			}
		}
		if b.NoPlace != 2*q.NoPlace {
			t.Errorf("%s: %+v on the near side, %+v on both", d, q, b)
		}
	}
}

// A warning sign that is mounted with an escape lane's sign is ordered as a sign, of the same kind
// and size as those on posts of their own; low gear plates stay plaques.
func TestAWarningSignWithAnEscapeLaneIsOrderedAsASign(t *testing.T) {
	in := passDescent()
	s := plan(t, in, "uk-2018")
	if err := s.PlanPosts(PostOptions{}); err != nil {
		t.Fatal(err)
	}
	isTriangle, rows := false, map[string]int{}
	for _, p := range s.Posts {
		for _, f := range p.Faces {
			isTriangle = isTriangle || f.IsPlaque && f.Designation == "523.1" && f.Shape == ShapeTriangle && f.Name == "Steep hill downwards"
		}
	}
	faces, _ := Quantities([]Schedule{s})
	for _, q := range faces {
		rows[q.Designation]++
		if q.Designation == "523.1" && q.IsPlaque || q.Designation == "526" && !q.IsPlaque {
			t.Errorf("%+v", q)
		}
	}
	if !isTriangle || rows["523.1"] != 1 || rows["526"] != 1 {
		t.Errorf("a triangle on an escape lane's post: %v; rows %v", isTriangle, rows)
	}
}

// The grade over the steepest 100 m is that of 100 m: 9 % on a hill of 6 %.
func TestTheSteepestHundredMetresAreAHundred(t *testing.T) {
	p := road(0.1, leg{500, 0, 0}, leg{800, 6, 0}, leg{100, 9, 0}, leg{800, 6, 0}, leg{500, 0, 0})
	in := Input{Descent: descent(p, 500, 2200), Profile: p, ApproachSpeedMPS: 25, Choices: map[string]string{"figure": "steepest-100"}}
	s := plan(t, in, "us-2023")
	if got := s.Stretches[0].Figure; math.Abs(got.Pct-9) > 0.01 || got.ShownPct != 9 {
		t.Errorf("%+v", got)
	}
}
