package survey

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

// roundHill is a hill of 26.7 km of one downgrade with a curve of a radius at km 25, and
// what the class meets on it; why says that it is not held or no descent.
func roundHill(t *testing.T, radiusM, downgrade float64) (p *routes.Profile, res Result, why string) {
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
	res.describe(p, &r, Options{Classes: []vehicle.Class{class}, forwardOnly: true})
	if len(res.Entries) != 1 || len(res.Entries[0].Holds) != 1 || !res.Entries[0].Holds[0].Holds {
		return p, res, fmt.Sprintf("%d descents, want one that is held", len(res.Entries))
	}
	return p, res, ""
}

// A roundabout of 25 m radius at km 25 of 4.2 % sets the speed there and where the truck slows
// down for it, not that of the 24 km before it. At 4.5 % it does not: see the next test.
func TestARoundaboutSetsTheSpeedOfItself(t *testing.T) {
	class := testClass(t)
	straight, without, why := roundHill(t, math.Inf(1), 0.042)
	p, with, whyNot := roundHill(t, 25, 0.042)
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
	// Not the whole hill takes the roundabout's speed. It still takes twice the time of the
	// hill without one, 2,444 s for 1,238 s, since no shift from the higher gear down to the
	// roundabout's is safe on the grade: a lower gear is in from the crest.
	timeS := ranking.TimeS(p, nil, with.Entries, &class, class.MassMaxKg)
	plainS := ranking.TimeS(straight, nil, without.Entries, &class, class.MassMaxKg)
	if timeS < plainS || timeS > 0.6*26_700/slowest {
		t.Errorf("%.0f s with the roundabout, %.0f s without, %.0f s all at its speed", timeS, plainS, 26_700/slowest)
	}
}

// One of 10 m needs third gear, one of 25 m on 4.5 % a low stage in fifth or sixth. The speed before
// it is limited twice: out of gear for five seconds the truck gains more than the wide steps of ten
// gears allow below fifth, and in a lower gear a stage that slows it would lock the wheels of the
// lightest truck that the answer is for. So 25 km before it are advised at its speed. Service brakes
// would slow the truck for it; advice never counts on them.
func TestKnownMissATightRoundaboutSetsTheSpeedOfTheHillBeforeIt(t *testing.T) {
	for radiusM, mostMPS := range map[float64]float64{10: 4.5, 25: 6.5} {
		_, with, why := roundHill(t, radiusM, 0.045)
		if why != "" {
			t.Fatal(why)
		}
		if s := with.Entries[0].Holds[0].Stretches[0]; s.ToM < 24_000 || s.SpeedMPS > mostMPS {
			t.Errorf("radius %g m: now %.0f m are advised at %.2f m/s: no longer missed?", radiusM, s.ToM, s.SpeedMPS)
		}
	}
}
