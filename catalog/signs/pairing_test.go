package signs

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// Which of two scheduled signs a standing one is taken for: the nearer one, other plaques
// counting as 50 m, another designation as 10 m, and a sign that is only advice as 25 m.
func TestWhichSignAStandingOneStandsFor(t *testing.T) {
	w71 := SignType{Designation: "W7-1", Also: []string{"W7-1b"}}
	base := Placement{Designation: "W7-1", Need: NeedWarranted, sign: w71}
	for _, k := range []struct {
		name    string
		costM   float64
		penalty func(p *Placement)
	}{
		{"plaques", 50, func(p *Placement) { p.Plaques = []string{"W7-3aP"} }},
		{"designation", 10, func(p *Placement) {
			p.Designation, p.sign = "W7-1x", SignType{Designation: "W7-1x", Also: []string{"W7-1"}}
		}},
		{"advice", 25, func(p *Placement) { p.Need = NeedAdvice }},
		{"can't tell", 25, func(p *Placement) { p.Need = NeedCantTell }},
		{"candidate", 25, func(p *Placement) { p.Need = NeedCandidate }},
	} {
		for _, moreM := range []float64{-0.4, 0.4} {
			near, far := base, base
			k.penalty(&near)
			near.StationM, far.StationM = 1000, 1000-k.costM-moreM
			s := Schedule{Placements: []Placement{near, far}}
			a := &auditor{s: &s, o: AuditOptions{MatchM: 100}, standing: []Standing{{Codes: []string{"W7-1"}, StationM: 1000}}}
			a.match()
			if got, want := a.byStanding[0], map[bool]int{true: 0, false: 1}[moreM > 0]; got != want {
				t.Errorf("%s, the other %g m away: sign %d, want %d", k.name, k.costM+moreM, got, want)
			}
		}
	}
	// Beyond the distance for a match nothing is paired.
	for offM, paired := range map[float64]bool{100: true, 100.5: false, -100: true, -100.5: false} {
		p := base
		p.StationM = 1000
		s := Schedule{Placements: []Placement{p}}
		a := &auditor{s: &s, o: AuditOptions{MatchM: 100}, standing: []Standing{{Codes: []string{"W7-1"}, StationM: 1000 + offM}}}
		a.match()
		if (a.byPlacement[0] != nil) != paired {
			t.Errorf("%g m off: paired %t", offM, !paired)
		}
	}
}

// A second sign near one that stands already is told as that; further off nothing calls
// for it.
func TestASecondSignIsToldAsThat(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	var ramp Placement
	for _, p := range s.Placements {
		if p.Role == RoleRamp {
			ramp = p
		}
	}
	stands := func(offM float64) Standing {
		return Standing{Feature: 1, Codes: []string{ramp.Designation}, Values: []string{""}, Side: "right", Facing: &s.Direction, StationM: ramp.StationM + offM, OffsetM: 7}
	}
	matchM := AuditOptions{}.filled().MatchM
	for offM, says := range map[float64]string{50: "a second one", matchM - 1: "a second one", matchM + 1: "nothing on this descent requires it"} {
		found := ""
		for _, f := range AuditStanding(s, []Standing{stands(1), stands(offM)}, AuditOptions{}) {
			if f.Kind == FindSuperfluous {
				found = f.Reason
			}
		}
		if !strings.Contains(found, says) {
			t.Errorf("%g m off: %q", offM, found)
		}
	}
}

// On the line no side is clear; beyond a metre it is the side of travel.
func TestTheSideOfAStandingSign(t *testing.T) {
	for _, k := range []struct {
		offsetM float64
		dir     routes.Direction
		said    string
		want    string
	}{{0.9, routes.Forward, "", ""}, {-0.9, routes.Forward, "", ""}, {1.05, routes.Forward, "", "right"}, {-1.05, routes.Forward, "", "left"},
		{1.05, routes.Backward, "", "left"}, {-1.05, routes.Backward, "", "right"}, {5, routes.Forward, "left", "left"}} {
		a := &auditor{s: &Schedule{Direction: k.dir}}
		if got := a.side(&Standing{OffsetM: k.offsetM, Side: k.said}); got != k.want {
			t.Errorf("%+v: %q", k, got)
		}
	}
}

// What becomes of a scheduled sign for which one stands: it is kept, moved with the reason,
// or replaced where its figure is wrong.
func TestWhatBecomesOfASignThatStands(t *testing.T) {
	for _, k := range []struct {
		offM        float64
		action, why string
	}{{0, ActionKeep, ""}, {60, ActionMove, "too far on"}, {-60, ActionMove, "too early"}} {
		s := plan(t, passDescent(), "us-2023")
		var ramp Placement
		for _, p := range s.Placements {
			if p.Role == RoleRamp {
				ramp = p
			}
		}
		st := Standing{Feature: 1, Codes: []string{ramp.Designation}, Values: []string{""}, Side: "right", Facing: &s.Direction, StationM: ramp.StationM + k.offM, OffsetM: 7}
		posted(t, &s, PostOptions{IsAudited: true, Standing: []Standing{st}})
		seen := false
		for _, p := range s.Posts {
			for _, f := range p.Faces {
				if f.Sign != ramp.Number || f.IsPlaque {
					continue
				}
				seen = true
				if f.Action != k.action || !strings.Contains(f.Why, k.why) || k.why == "" && f.Why != ramp.Why || (f.FromM != nil) != (k.action == ActionMove) {
					t.Errorf("%g m off: %s, %q, moved from %v", k.offM, f.Action, f.Why, f.FromM)
				}
			}
		}
		if !seen {
			t.Error("no face of the ramp's sign")
		}
	}
}

// A bend that tightens is one curve of its tightest radius; its advisory speed is by
// v² = f·g·R at that radius.
func TestABendHasItsTightestRadius(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	for _, radii := range [][2]float64{{120, 60}, {60, 120}} {
		p := road(0.3, leg{500, 0, 0}, leg{500, 6, 0}, leg{100, 6, radii[0]}, leg{60, 6, radii[1]}, leg{1000, 6, 0}, leg{300, 0, 0})
		d := descent(p, 500, 2160)
		tr, err := newTravel(&d, p)
		if err != nil {
			t.Fatal(err)
		}
		list := tr.bends(&rs, 55*mph)
		if len(list) != 1 || list[0].radiusM != 60 || list[0].speedMPS != rs.Curve.AdvisoryMPS(60) || list[0].curves != 1 || math.Abs(list[0].at.lengthM()-160) > 20.1 {
			t.Errorf("%v: %+v", radii, list)
		}
	}
}

// Two curves within the gap are one bend, further apart two; the other sense makes it a
// reverse one. A curve whose advisory speed is not far enough under the approach's is none.
func TestCurvesWithinTheGapAreOneBend(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	for _, k := range []struct {
		gapM     float64
		radiusM  float64
		bends    int
		curves   int
		opposite bool
	}{{rs.Curve.GapM - 25, 60, 1, 2, false}, {rs.Curve.GapM - 25, -60, 1, 2, true}, {rs.Curve.GapM + 25, 60, 2, 1, false}} {
		p := road(0.3, leg{500, 0, 0}, leg{500, 6, 0}, leg{60, 6, 60}, leg{math.Round(k.gapM/10) * 10, 6, 0}, leg{60, 6, k.radiusM}, leg{1000, 6, 0}, leg{300, 0, 0})
		d := descent(p, 500, p.LengthM-300)
		tr, err := newTravel(&d, p)
		if err != nil {
			t.Fatal(err)
		}
		list := tr.bends(&rs, 55*mph)
		if len(list) != k.bends || list[0].curves != k.curves || list[0].opposite != k.opposite {
			t.Errorf("%+v: %+v", k, list)
		}
		if slow := tr.bends(&rs, rs.Curve.AdvisoryMPS(60)+rs.Curve.UnderByMPS-0.1); len(slow) != 0 {
			t.Errorf("a curve for a slow approach: %+v", slow)
		}
		if slow := tr.bends(&rs, rs.Curve.AdvisoryMPS(60)+rs.Curve.UnderByMPS+0.01); len(slow) == 0 {
			t.Error("no curve just above it")
		}
	}
}

// Where the approach falls the sign stands further ahead, by the edition's own table for
// its grade; where it rises, or nobody chose so, by the one for the level.
func TestAFallingApproachLengthensTheDistance(t *testing.T) {
	for _, k := range []struct {
		approachPct float64
		choice      string
		fallPct     float64
	}{{5, "lengthen", 5}, {-5, "lengthen", 0}, {5, "", 0}} {
		p := road(0.3, leg{1000, k.approachPct, 0}, leg{2500, 6, 0}, leg{500, 0, 0})
		in := Input{Descent: descent(p, 1000, 3500), Profile: p, ApproachSpeedMPS: 55 * mph}
		if k.choice != "" {
			in.Choices = map[string]string{"downgrade-approach": k.choice}
		}
		s := plan(t, in, "us-2023")
		rs := ruleSet(t, "us-2023")
		want := rs.Placement.Advance(s.ApproachMPS, s.AdvisedMPS, k.fallPct).LengthM
		if level := rs.Placement.Advance(s.ApproachMPS, s.AdvisedMPS, 0).LengthM; k.fallPct > 0 && !(want > level) {
			t.Fatalf("the table's distance at %g %% is %g m, on the level %g m", k.fallPct, want, level)
		}
		for _, pl := range s.Placements {
			if pl.Role == RoleAdvance && math.Abs(pl.AheadM-want) > 1e-6 {
				t.Errorf("%+v: %g m ahead, want %g", k, pl.AheadM, want)
			}
		}
	}
}

// Candidates for a ramp stand 200 m upstream of what the runaway must not reach: a curve
// that would roll it over, 80 mph, the foot. Two nearer than twice that are one.
func TestWhereRampsWouldHelp(t *testing.T) {
	run := func(n int, speed, curve func(i int) float64) []SpeedAt {
		out := make([]SpeedAt, n)
		for i := range out {
			out[i] = SpeedAt{StationM: 10 * float64(i), FreeMPS: speed(i), CurveMPS: curve(i)}
		}
		return out
	}
	none := func(int) float64 { return 0 }
	in := RunawayInput{Profile: &routes.Profile{}}
	stations := func(list []SpeedAt, leadM float64) (out []float64) {
		for _, c := range RampCandidates(in, list, leadM) {
			out = append(out, c.StationM)
		}
		return out
	}
	same := func(name string, got []float64, want ...float64) {
		t.Helper()
		if len(got) != len(want) {
			t.Errorf("%s: at %v, want %v", name, got, want)
			return
		}
		for i := range want {
			if math.Abs(got[i]-want[i]) > 1e-9 {
				t.Errorf("%s: at %v, want %v", name, got, want)
			}
		}
	}
	curveAt := func(k int, v float64) func(int) float64 {
		return func(i int) float64 {
			if i >= k && i < k+5 {
				return v
			}
			return 0
		}
	}
	level := func(v float64) func(int) float64 { return func(int) float64 { return v } }
	same("a curve at 500 m", stations(run(101, level(20), curveAt(50, 19.9)), 0), 300)
	same("a curve that is slow enough", stations(run(101, level(20), curveAt(50, 20.1)), 0))
	same("another lead", stations(run(101, level(20), curveAt(50, 19.9)), 100), 400)
	same("the foot", stations(run(101, func(i int) float64 { return 20 + 0.01*float64(i) }, none), 0), 800)
	same("80 mph at 560 m and the foot at 1,000 m", stations(run(101, func(i int) float64 { return 30.17 + 0.1*float64(i) }, none), 0), 360, 800)
	same("80 mph at 770 m and the foot, one ramp", stations(run(101, func(i int) float64 { return 28.07 + 0.1*float64(i) }, none), 0), 570)
	same("two points", stations(run(2, func(i int) float64 { return 20 + float64(i) }, none), 0), 0)
	same("one point", stations(run(1, level(20), none), 0))
	in.Profile.Structures = []routes.Structure{{Kind: routes.Bridge, FromM: 250, ToM: 310}}
	same("off a bridge", stations(run(101, level(20), curveAt(50, 19.9)), 0), 240)
	list := RampCandidates(in, run(101, level(20), curveAt(50, 15)), 0)
	if len(list) != 1 || !strings.Contains(list[0].WhyIn(catalog.Metric), "54 km/h") {
		t.Errorf("%+v", list)
	}
}
