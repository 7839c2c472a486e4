package signs

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// The sense of a turn is that of travel: a line that bends to the left does so for forward
// travel, to the right for backward.
func TestTheSenseOfATurn(t *testing.T) {
	for _, left := range []bool{true, false} {
		radius := map[bool]float64{true: -80, false: 80}[left] // as the made road has it: heading less by step over radius
		p := road(0.3, leg{500, 0, 0}, leg{300, 6, 0}, leg{100, 6, radius}, leg{800, 6, 0}, leg{300, 0, 0})
		for _, backward := range []bool{false, true} {
			q, d := p, descent(p, 500, 1700)
			if backward {
				q = reversed(p)
				d = descent(q, q.LengthM-500, q.LengthM-1700)
			}
			tr, err := newTravel(&d, q)
			if err != nil {
				t.Fatal(err)
			}
			if got := tr.turnsLeft(350); got != left {
				t.Errorf("left %t, backward %t: %t", left, backward, got)
			}
		}
	}
}

// From how far a sign on a bend is seen: the chord of a circle of radius R stays within c of
// it up to 2·√(2·R·c − c²), 61.6 m for 80 m and 6 m; a straight road as far as one asks.
func TestHowFarASignIsSeen(t *testing.T) {
	p := road(0.3, leg{500, 0, 0}, leg{800, 6, 0}, leg{100, 6, 80}, leg{800, 6, 0}, leg{300, 0, 0})
	d := descent(p, 500, 2200)
	tr, err := newTravel(&d, p)
	if err != nil {
		t.Fatal(err)
	}
	const farM = 240.0
	if got := tr.visible(1000, farM, 6); got != farM {
		t.Errorf("on a straight %g m", got)
	}
	if got, want := tr.visible(1400, farM, 6), 2*math.Sqrt(2*80*6-36); math.Abs(got-want) > 15 { // in steps of 10 m
		t.Errorf("behind a bend %g m, want %.0f", got, want)
	}
	if got := tr.visible(100, 500, 6); got != 500 {
		t.Errorf("before the line %g m", got)
	}
}

// A milepost's value is one up to 100,000; signs and names of standing signs are told.
func TestWhatIsReadAndTold(t *testing.T) {
	for text, ok := range map[string]bool{"12.4mi=231.5": true, "1km=100000": true, "1km=-100000": true, "1km=100001": false, "1km=x": false, "1km=NaN": false, "1km": false} {
		if _, err := ParseMilepost(text); (err == nil) != ok {
			t.Errorf("%s: %v", text, err)
		}
	}
	for _, k := range []struct {
		s    Standing
		want string
	}{
		{Standing{Feature: 3}, "standing sign 3"}, {Standing{Feature: 3, ID: "S-1"}, "standing sign 3, id S-1"},
		{Standing{Feature: 3, Name: "Hill"}, "standing sign 3 (Hill)"}, {Standing{Feature: 3, Name: "Hill", ID: "S-1"}, "standing sign 3 (Hill), id S-1"},
	} {
		if got := k.s.label(); got != k.want {
			t.Errorf("%q, want %q", got, k.want)
		}
	}
	for v, want := range map[float64]string{0: "0", -0.4: "0", -12: "-12", 999: "999", 1000: "1,000", -1234567: "-1,234,567"} {
		if got := group(v); got != want {
			t.Errorf("%g: %q, want %q", v, got, want)
		}
	}
}

// A rated ramp that is too short says by how much, rounded up; one that no length would
// help says so.
func TestRatedRampsSayWhatIsShort(t *testing.T) {
	for _, k := range []struct {
		r     Rating
		units catalog.Units
		stops string
		short string
	}{
		{Rating{Stops: true, UsedM: 99.2}, catalog.Metric, "yes", ""},
		{Rating{ShortByM: 30.2}, catalog.Metric, "NO", "31 m"},
		{Rating{ShortByM: 30.2}, catalog.US, "NO", "100 ft"},
		{Rating{}, catalog.Metric, "NO", "its last bed would not, at any length"},
		{Rating{Stops: true, EntryMPS: 20, RunsDownMPS: 25}, catalog.Metric, "yes (NO)", ""},
	} {
		header, rows := RatingTable([]Rating{k.r}, k.units)
		if len(rows) != 1 || len(rows[0]) != len(header) || rows[0][4] != k.stops || rows[0][7] != k.short {
			t.Errorf("%+v: %q", k.r, rows)
		}
	}
}

// A ramp's lengths are worked out for grades of −5, 0, 5 and 10 %: those on which a bed is
// built, the falling one a descending ramp.
func TestGradesOfRamps(t *testing.T) {
	c := rampStationAt(SpeedAt{FreeMPS: 30})
	grades := map[float64]string{}
	for _, l := range c.Lengths {
		grades[l.GradePct] = l.Kind
	}
	want := map[float64]string{0: RampLevel, 5: RampAscending, 10: RampAscending, -5: RampDescending}
	if fmt.Sprint(grades) != fmt.Sprint(want) {
		t.Errorf("%v, want %v", grades, want)
	}
}

// A face of a post has its sign's number; one that is not of the schedule has none.
func TestFacesHaveTheirSignsNumbers(t *testing.T) {
	s := Schedule{Posts: []Post{{Number: 1, Faces: []Face{{Sign: 7}, {}}}}}
	header, rows := s.PostTable(catalog.Metric)
	for i, h := range header {
		if h == "sign_number" && (rows[0][i] != "7" || rows[1][i] != "") {
			t.Errorf("%q", rows)
		}
	}
	if s.Posts[0].OnLine || rows[0][8] != "" {
		t.Errorf("%q", rows)
	}
}

// A post carries two signs; a third that may move stands by itself, the spacing upstream.
func TestAPostCarriesTwoSigns(t *testing.T) {
	in := passDescent()
	tr, err := newTravel(&in.Descent, in.Profile)
	if err != nil {
		t.Fatal(err)
	}
	rs := ruleSet(t, "us-2023")
	for together, wantM := range map[int]float64{1: 3000, 2: 3000 - rs.Spacing.LeastM} {
		pl := &placer{rs: &rs, t: tr, in: &in, s: &Schedule{}}
		pl.out = []Placement{{Designation: "A", Role: RoleAdvance, StationM: 3000, AnchorM: 3200}}
		for k := range together {
			pl.out = append(pl.out, Placement{Designation: string(rune('B' + k)), Role: RoleRamp, StationM: 3000, AnchorM: 3000})
		}
		pl.space()
		if got := pl.out[0]; got.Designation != "A" || math.Abs(got.StationM-wantM) > 1e-9 {
			t.Errorf("next to %d: %+v", together, got)
		}
	}
}

// A bench inside the descent is noted, an easier end is none.
func TestBenchesAreNotedInside(t *testing.T) {
	p := road(0.1, leg{500, 0, 0}, leg{2000, 6, 0}, leg{800, 0.5, 0}, leg{2000, 6, 0}, leg{500, 0, 0})
	inside := plan(t, Input{Descent: descent(p, 500, 5300), Profile: p, ApproachSpeedMPS: 25}, "us-2023")
	atFoot := plan(t, Input{Descent: descent(p, 500, 3300), Profile: p, ApproachSpeedMPS: 25}, "us-2023")
	if text := strings.Join(inside.Notes, "\n"); !strings.Contains(text, "Bench from station 8,") || strings.Count(text, "Bench from") != 1 {
		t.Errorf("inside: %s", text)
	}
	if text := strings.Join(atFoot.Notes, "\n"); strings.Contains(text, "Bench from") {
		t.Errorf("at the foot: %s", text)
	}
}

// Too early and too far on are told in travel, forward and backward.
func TestMisplacedTooEarlyOrTooFarOn(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	var ramp Placement
	for _, p := range s.Placements {
		if p.Role == RoleRamp {
			ramp = p
		}
	}
	for offM, says := range map[float64]string{60: "too far on", -60: "too early"} {
		st := Standing{Feature: 1, Codes: []string{ramp.Designation}, Values: []string{""}, Side: "right", Facing: &s.Direction, StationM: ramp.StationM + offM, OffsetM: 7}
		found := false
		for _, f := range AuditStanding(s, []Standing{st}, AuditOptions{}) {
			found = found || f.Kind == FindMisplaced && strings.Contains(f.Reason, says)
		}
		if !found {
			t.Errorf("%g m off is not %s", offM, says)
		}
	}
}

// Where the steepest 100 m are asked for, their sign is for 100 m: all of a part of 9 %.
func TestTheSteepestHundredMetresHaveTheirSign(t *testing.T) {
	rs := ruleSet(t, "us-2023")
	for i := range rs.Signs {
		if rs.Signs[i].Role == RoleAdvance {
			rs.Signs[i].Legend = "HILL"
		}
	}
	p := road(0.1, leg{500, 0, 0}, leg{2000, 5.5, 0}, leg{100, 9, 0}, leg{2000, 5.5, 0}, leg{500, 0, 0})
	s, err := Plan(Input{Descent: descent(p, 500, 4600), Profile: p, ApproachSpeedMPS: 25, Choices: map[string]string{"figure": "steepest-100"}}, rs)
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, pl := range s.Placements {
		if pl.Role == RoleSteepest {
			found = true
			if !strings.Contains(pl.Why, "steepest 328 ft, 9.0 %") || math.Abs(pl.AnchorM-2500) > 10 {
				t.Errorf("%q at %g m", pl.Why, pl.AnchorM)
			}
		}
	}
	if !found {
		t.Error("no sign for the steepest part")
	}
}

// The steepest window of 100 m that touches a stretch: inside one that is longer, around one
// that is shorter; a piece that is shorter counts as level beyond its ends.
func TestTheSteepestWindowOfAStretch(t *testing.T) {
	p := road(0.1, leg{500, 0, 0}, leg{500, 5, 0}, leg{100, 9, 0}, leg{300, 5, 0}, leg{100, 11, 0}, leg{500, 5, 0}, leg{500, 0, 0})
	d := descent(p, 500, 2000) // 9 % from 500 m past the crest, 11 % from 900 m
	tr, err := newTravel(&d, p)
	if err != nil {
		t.Fatal(err)
	}
	piece := span{0, 1500}
	for _, k := range []struct {
		s      span
		fromM  float64
		gotPct float64
	}{{span{300, 800}, 500, 9}, {span{300, 1200}, 900, 11}, {span{540, 560}, 500, 9}, {span{590, 610}, 510, 8.6}, {span{0, 20}, 0, 5}} {
		at, got := tr.window(piece, k.s, 100)
		if math.Abs(at.lengthM()-100) > 1e-6 || math.Abs(got-k.gotPct) > 0.41 || math.Abs(at.fromM-k.fromM) > 21 {
			t.Errorf("%+v: %+v at %g %%, want from %g m at %g %%", k.s, at, got, k.fromM, k.gotPct)
		}
	}
	at, got := tr.window(span{520, 560}, span{520, 560}, 100)
	if at != (span{520, 560}) || math.Abs(got-9*0.4) > 0.01 {
		t.Errorf("a piece of 40 m: %+v at %g %%", at, got)
	}
}

// Where no ground is under the grade line its bound doubles, and a row may be met that is
// missed by more than the usual bound. Such windows that touch are one stretch, told with the
// figures of the one that comes nearest: of 5.45, 5.55 and 5.45 % against 6 % that of 5.55.
func TestAStretchWithoutGroundIsToldByItsNearestWindow(t *testing.T) {
	p := road(0.3, leg{500, 0, 0}, leg{1000, 5.45, 0}, leg{500, 5.55, 0}, leg{1000, 5.45, 0}, leg{300, 0, 0})
	p.State = make([]routes.StationState, p.Count())
	for i := range p.State {
		p.State[i] = routes.InVoid
	}
	d := descent(p, 500, 3000)
	tr, err := newTravel(&d, p)
	if err != nil {
		t.Fatal(err)
	}
	got := tr.within(span{0, 2500}, Row{GradePct: 6}, 100)
	if len(got) != 1 || math.Abs(got[0].gotPct-5.55) > 1e-6 || math.Abs(got[0].margin+0.45) > 1e-6 || got[0].verdict != CantTell ||
		math.Abs(got[0].at.fromM) > 1e-6 || math.Abs(got[0].at.toM-2500) > p.StepM+1e-6 {
		t.Errorf("%+v", got)
	}
}
