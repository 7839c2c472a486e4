package survey

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

// roundHill is a hill of 26.7 km of one downgrade, from 2,500 m down, with a curve of a radius at
// km 25, and what the class meets on it in air of one temperature; why says that it is not held or no
// descent.
func roundHill(t *testing.T, radiusM, downgrade, airC float64) (p *routes.Profile, res Result, why string) {
	t.Helper()
	const lengthM, roundM, lapM = 26_700.0, 25_000.0, 30.0
	class := testClass(t)
	r := routes.Route{ID: "long", Line: orb.LineString{{8, 46}, {8 + lengthM/degreeEastM, 46}}}
	r.LengthM = stationing.DistanceM(r.Line[0], r.Line[1])
	r.VertexM = []float64{0, r.LengthM}
	n := int(r.LengthM / 10)
	p = &routes.Profile{StepM: r.LengthM / float64(n), LengthM: r.LengthM, Reliable: true, CellM: 10,
		Bound: routes.ErrorModel{EndM: 30, ElevationM: 1, FloorPct: 0.1, SpanM: []float64{100, 500, 1000}, SpanPct: []float64{0.3, 0.2, 0.1}}}
	for i := range n + 1 {
		m := p.StationM(i)
		z, radius := 2500-downgrade*m, math.Inf(1)
		if m >= roundM && m <= roundM+lapM {
			radius = radiusM
		}
		p.GroundM, p.ElevationM = append(p.GroundM, z), append(p.ElevationM, z)
		p.State, p.EaseM = append(p.State, routes.Measured), append(p.EaseM, 0)
		p.Points, p.RadiusM = append(p.Points, orb.Point{8 + m/degreeEastM, 46}), append(p.RadiusM, radius)
	}
	res = Result{Route: r}
	res.describe(p, &r, Options{Classes: []vehicle.Class{class}, forwardOnly: true,
		Weather: &catalog.Weather{ColdestC: airC, HottestC: airC, TailwindMPS: holding.TailwindMPS}})
	if len(res.Entries) != 1 || len(res.Entries[0].Holds) != 1 || !res.Entries[0].Holds[0].Holds {
		return p, res, fmt.Sprintf("%d descents, want one that is held", len(res.Entries))
	}
	return p, res, ""
}

// A roundabout of 25 m radius at km 25 of 4.2 % sets the speed there and where the truck slows
// down for it, not that of the 24 km before it; in air of 0 °C.
func TestARoundaboutSetsTheSpeedOfItself(t *testing.T) {
	class := testClass(t)
	straight, without, why := roundHill(t, math.Inf(1), 0.042, 0)
	p, with, whyNot := roundHill(t, 25, 0.042, 0)
	if why+whyNot != "" {
		t.Fatal(why, whyNot)
	}
	slowest, slowM := math.Inf(1), 0.0
	for _, s := range with.Entries[0].Holds[0].Stretches {
		slowest = math.Min(slowest, s.SpeedMPS)
		if s.SpeedMPS < 11 {
			slowM += math.Abs(s.ToM - s.FromM)
		}
	}
	// A lateral 0.35 g would turn over at √(9.81·25·0.35) = 9.3 m/s; advice stays well under.
	if slowest > 0.75*9.3 || slowest < 5 {
		t.Errorf("the roundabout is advised at %.2f m/s", slowest)
	}
	if slowM > 1500 {
		t.Errorf("%.0f m are slower than 11 m/s: %+v", slowM, with.Entries[0].Holds[0].Stretches)
	}
	// The trip takes at most .4 longer than without it.
	timeS := ranking.TimeS(p, nil, with.Entries, &class, class.MassMaxKg)
	plainS := ranking.TimeS(straight, nil, without.Entries, &class, class.MassMaxKg)
	if timeS < plainS || timeS > 1.4*plainS {
		t.Errorf("%.0f s with the roundabout, %.0f s without", timeS, plainS)
	}
}

// One of 10 m needs third gear, one of 25 m on 4.5 % a low stage in fifth or sixth. No shift down to
// these is safe on the grade, so the service brakes, cold until then, slow the truck once. The 24 km
// before it are driven in their own gear, and the trip takes at most a third longer than without; in air
// of 0 °C.
func TestATightRoundaboutDoesNotSetTheSpeedOfTheHillBeforeIt(t *testing.T) {
	class := testClass(t)
	straight, without, why := roundHill(t, math.Inf(1), 0.045, 0)
	if why != "" {
		t.Fatal(why)
	}
	plainS := ranking.TimeS(straight, nil, without.Entries, &class, class.MassMaxKg)
	for radiusM, mostMPS := range map[float64]float64{10: 4.5, 25: 6.5} {
		p, with, why := roundHill(t, radiusM, 0.045, 0)
		if why != "" {
			t.Fatal(why)
		}
		h := with.Entries[0].Holds[0]
		if h.SpeedMPS > mostMPS || h.LimitedBy != catalog.LimitCurve {
			t.Errorf("radius %g m: the single answer is %.2f m/s by %s", radiusM, h.SpeedMPS, h.LimitedBy)
		}
		slow, slowings := 0.0, 0
		for _, s := range h.Stretches {
			if s.SpeedMPS < 11 && s.FromM < 25_000 {
				slow += s.ToM - s.FromM
			}
			if s.FromM <= 25_000 && s.ToM >= 25_030 && s.SpeedMPS > mostMPS {
				t.Errorf("radius %g m: %.2f m/s on it", radiusM, s.SpeedMPS)
			}
			if s.Slowing != nil {
				slowings++
				if s.ToM > 25_000 || s.Slowing.ServiceBrakeTempC > 93.4 {
					t.Errorf("radius %g m: %+v, %+v", radiusM, s, s.Slowing)
				}
			}
		}
		if slow > 800 || slowings != 1 {
			t.Errorf("radius %g m: %.0f m before it are slower than 11 m/s, %d slowings: %+v", radiusM, slow, slowings, h.Stretches)
		}
		if timeS := ranking.TimeS(p, nil, with.Entries, &class, class.MassMaxKg); timeS < plainS || timeS > 1.34*plainS {
			t.Errorf("radius %g m: %.0f s, without it %.0f s", radiusM, timeS, plainS)
		}
	}
}

// In hot air, thin at 2,500 m, seventh gear holds 4.5 % at its highest engine speed only. The service
// brakes may take the truck to the roundabout's speed from some 14 m/s at most, where that gear holds no
// longer. So the truck is in sixth gear from the crest, and the trip takes twice as long.
func TestKnownMissARoundaboutSetsTheSpeedOfTheHillBeforeItInHotThinAir(t *testing.T) {
	class := testClass(t)
	straight, without, why := roundHill(t, math.Inf(1), 0.045, 40)
	p, with, whyNot := roundHill(t, 25, 0.045, 40)
	if why+whyNot != "" {
		t.Fatal(why, whyNot)
	}
	timeS, plainS := ranking.TimeS(p, nil, with.Entries, &class, class.MassMaxKg), ranking.TimeS(straight, nil, without.Entries, &class, class.MassMaxKg)
	if timeS < 1.34*plainS {
		t.Errorf("mended: %.0f s, without the roundabout %.0f s", timeS, plainS)
	}
	if timeS > 2.2*plainS {
		t.Errorf("worse: %.0f s, without the roundabout %.0f s", timeS, plainS)
	}
}
