package signs

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// An inventory's own id, photograph and bound of place are read, from the properties or
// the feature.
func TestInventoriesSayIDsPhotosAndBounds(t *testing.T) {
	point := `"geometry":{"type":"Point","coordinates":[10,45]}`
	for _, c := range []struct {
		text, id, photo string
		errM            float64
	}{
		{`{"type":"Feature","id":7,"properties":{"designation":"W7-1","photo":"IMG_1","accuracy_m":"3.5 m"},` + point + `}`, "7", "IMG_1", 3.5},
		{`{"type":"Feature","id":7,"properties":{"designation":"W7-1","id":"S-12","mapillary":99,"station_err_m":25},` + point + `}`, "S-12", "99", 25},
		{`{"type":"Feature","properties":{"designation":"W7-1","accuracy_m":-4},` + point + `}`, "", "", 0},
		{`{"type":"Feature","properties":{"designation":"W7-1","accuracy_m":1000},` + point + `}`, "", "", 0},
	} {
		got, _, err := ParseStanding("a.geojson", strings.NewReader(c.text))
		if err != nil || len(got) != 1 || got[0].ID != c.id || got[0].Photo != c.photo || got[0].ErrM != c.errM {
			t.Errorf("%s: %+v, %v", c.text, got, err)
		}
	}
}

// A sign is misplaced beyond 30 m, the bound of where it is due and its own: 10 m where the
// inventory does not say, else what it says. Findings come in travel order.
func TestMisplacementTakesTheStandingSignsOwnBound(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	var repeats []Placement
	for _, p := range s.Placements {
		if p.Role == RoleRamp || p.Role == RoleRampAdvance { // bounds of their own are 0
			repeats = append(repeats, p)
		}
	}
	for _, c := range []struct {
		offM, ownM float64
		misplaced  bool
	}{{39.5, 0, false}, {40.5, 0, true}, {79.5, 50, false}, {80.5, 50, true}, {32.5, 2, true}, {31.5, 2, false}} {
		p := repeats[len(repeats)-1]
		st := Standing{Feature: 1, Codes: []string{p.Designation}, Values: []string{""}, Side: "right", Facing: &s.Direction, StationM: p.StationM + c.offM, OffsetM: 7, ErrM: c.ownM}
		found := false
		list := AuditStanding(s, []Standing{st}, AuditOptions{})
		for i, f := range list {
			found = found || f.Kind == FindMisplaced
			if i > 0 && f.StationM < list[i-1].StationM {
				t.Errorf("findings out of order at %g m", f.StationM)
			}
		}
		if found != c.misplaced {
			t.Errorf("%g m off with a bound of %g m: misplaced %t", c.offM, c.ownM, found)
		}
	}
}

// On the right of the line a sign is read by forward travel where one drives on the
// right, by backward travel where one drives on the left.
func TestWhoReadsASign(t *testing.T) {
	for id, onRight := range map[string]routes.Direction{"us-2023": routes.Forward, "uk-2013": routes.Backward} {
		s := plan(t, hillOf(0.3, 2500, 12), id)
		a := newAuditor(&s, nil, AuditOptions{})
		if d, ok := a.facing(Standing{OffsetM: 5}); !ok || d != onRight {
			t.Errorf("%s: 5 m right: %v, %t", id, d, ok)
		}
		if d, ok := a.facing(Standing{OffsetM: -5}); !ok || d == onRight {
			t.Errorf("%s: 5 m left: %v, %t", id, d, ok)
		}
		if _, ok := a.facing(Standing{OffsetM: 0.5}); ok {
			t.Errorf("%s: on the line a side is taken", id)
		}
	}
}

// What a runaway is taken with says whether it was asked for, in feet and pounds or SI.
func TestRunawayFiguresSayWhatWasGiven(t *testing.T) {
	for i, in := range []RunawayInput{{MassKg: 50000}, {RollingResistance: 0.01}, {DragAreaM2: 6}, {FadedDecelMPS2: 0.5}} {
		for k, f := range RunawayFigures(in, catalog.US) {
			if (f.Status == StatusGiven) != (k == i) {
				t.Errorf("%+v: %+v", in, f)
			}
		}
	}
	us := RunawayFigures(RunawayInput{}, catalog.US)
	if us[0].Figure != "mass 80,000 lb" || us[2].Figure != "drag area 59 ft²" || us[3].Figure != "faded service brakes 1.3 ft/s²" {
		t.Errorf("%+v", us)
	}
	if si := RunawayFigures(RunawayInput{}, catalog.Metric); si[2].Figure != "drag area 5.5 m²" || si[3].Figure != "faded service brakes 0.4 m/s²" {
		t.Errorf("%+v", si)
	}
}

// A post stands at most 100 m from the road's edge; rounding first makes a 5 % row of 4.5 %.
func TestLimitsOfPostsAndRows(t *testing.T) {
	s := plan(t, passDescent(), "us-2023")
	for offM, ok := range map[float64]bool{0: true, 100: true, 101: false} {
		if err := s.PlanPosts(PostOptions{OffsetM: &offM}); (err == nil) != ok {
			t.Errorf("%g m: %v", offM, err)
		}
	}
	w := Warrant{Rows: []Row{{GradePct: 5, LongerThanM: 900}, {GradePct: 6, LongerThanM: 600, Over: true}}}
	got := rows(w, map[string]string{"between-rows": "nearest"})
	if math.Abs(got[0].GradePct-4.5) > 1e-9 || math.Abs(got[1].GradePct-6.5) > 1e-9 || got[1].Over {
		t.Errorf("%+v", got)
	}
}
