package holding

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/routes"
)

// A long pitch steeper than the mean rules, not the mean: 100 m of 10 % in 6 km
// of 5 % gives the advice of 10 %, and a pitch of 30 m under the reserve doesn't.
func TestShortPitchesRule(t *testing.T) {
	c := mustClass(t, "us-5axle")
	pitch := func(pct, lengthM float64) Hill {
		return Hill{StationM: []float64{0, 3000, 3000 + lengthM, 6000 + lengthM}, DowngradePct: []float64{5, pct, 5}}
	}
	even, steep := advise(t, PlainHill(5, 6000), c, Options{}), advise(t, PlainHill(10, 6000), c, Options{})
	if got := advise(t, pitch(10, 100), c, Options{}); got.SpeedMPS != steep.SpeedMPS || got.Gear != steep.Gear {
		t.Errorf("100 m of 10 %%: gear %d, %.1f km/h; all of it 10 %%: gear %d, %.1f km/h", got.Gear, got.SpeedMPS*3.6, steep.Gear, steep.SpeedMPS*3.6)
	}
	if got := advise(t, pitch(6, 30), c, Options{}); got.SpeedMPS != even.SpeedMPS {
		t.Errorf("30 m of 6 %% in 5 %%: %.1f km/h, without it %.1f", got.SpeedMPS*3.6, even.SpeedMPS*3.6)
	}
	// A bench or a counter-grade helps nobody at a steady speed.
	bench := Hill{StationM: []float64{0, 3000, 4000, 7000}, DowngradePct: []float64{5, -1, 5}}
	if got := advise(t, bench, c, Options{}); got.SpeedMPS != even.SpeedMPS {
		t.Errorf("with a counter-grade %.1f km/h, without %.1f", got.SpeedMPS*3.6, even.SpeedMPS*3.6)
	}
}

// What smoothing may have taken off a steep part counts against the truck in the
// direction that falls, and not in the other. Closed form: 3 m over 200 m are 1.5
// points; a part as wide as the window holds all of it.
func TestWhatSmoothingTookOffCountsDownhill(t *testing.T) {
	p := &routes.Profile{StepM: 10, LengthM: 3000, Bound: routes.ErrorModel{SpanM: []float64{200, 1000}, SpanPct: []float64{0.5, 0.1}, FloorPct: 0.05, EaseShare: 1}}
	for i := 0; i <= 300; i++ {
		p.ElevationM = append(p.ElevationM, 1000-0.6*float64(i))
		p.State = append(p.State, routes.Measured)
		p.RadiusM = append(p.RadiusM, math.Inf(1))
		p.Points = append(p.Points, orb.Point{})
		p.EaseM = append(p.EaseM, -3*math.Max(0, math.Min(1, (float64(i)*10-1500)/200)))
	}
	down := HillFromDescent(p, &routes.Descent{StartM: 0, EndM: 3000, Direction: routes.Forward, MeanDowngradeErrPct: 0.08}, nil)
	up := HillFromDescent(p, &routes.Descent{StartM: 3000, EndM: 0, Direction: routes.Backward, MeanDowngradeErrPct: 0.08}, nil)
	if got := slices.Max(down.ErrPct); math.Abs(got-(0.5+1.4625)) > 1e-9 { // the window stands half a step beside the part
		t.Errorf("bound where a part was eased: %.4f", got)
	}
	if got := down.ErrPct[0]; got != 0.5 {
		t.Errorf("bound elsewhere: %.4f", got)
	}
	if got := slices.Max(up.ErrPct); got != 0.5 {
		t.Errorf("bound the other way: %.4f", got)
	}
	c := mustClass(t, "us-5axle")
	was := down
	was.ErrPct = nil
	if a, b := advise(t, down, c, Options{}), advise(t, was, c, Options{}); !(a.SpeedMPS < b.SpeedMPS) {
		t.Errorf("%.2f m/s with it, %.2f without", a.SpeedMPS, b.SpeedMPS)
	}
}

// A descent read off a profile, in both directions.
func TestHillFromDescent(t *testing.T) {
	p := &routes.Profile{StepM: 10, LengthM: 3005, Bound: routes.ErrorModel{SpanM: []float64{200, 1000}, SpanPct: []float64{0.5, 0.1}, FloorPct: 0.05, ElevationM: 1}}
	for i := 0; i <= 300; i++ {
		p.ElevationM = append(p.ElevationM, 1000-0.6*float64(i))
		p.State = append(p.State, routes.Measured)
		p.RadiusM = append(p.RadiusM, math.Inf(1))
		p.Points = append(p.Points, orb.Point{})
	}
	p.ElevationM = append(p.ElevationM, 1000-0.06*3005)
	p.State = append(p.State, routes.Measured)
	p.RadiusM = append(p.RadiusM, 90)
	p.State[100] = routes.OnBridge
	limits := []routes.SpeedLimit{{FromM: 2000, ToM: 2500, SpeedMPS: 11, Forward: true}, {FromM: 0, ToM: 500, SpeedMPS: 5, Forward: true}}
	d := &routes.Descent{StartM: 604, EndM: 2604, Direction: routes.Forward, MeanDowngradeErrPct: 0.08, StartErrM: 15}
	h := HillFromDescent(p, d, limits)
	if math.Abs(h.LengthM()-2000) > 1e-9 || len(h.DowngradePct) != len(h.StationM)-1 || h.LocalErrPct != 0.5 {
		t.Fatalf("%.3f m, %d nodes, bound %.2f", h.LengthM(), len(h.StationM), h.LocalErrPct)
	}
	for i, g := range h.DowngradePct {
		if math.Abs(g-6) > 1e-6 {
			t.Fatalf("interval %d: %.6f %%", i, g)
		}
	}
	h.EntrySpeedMPS = 1 // slower than the advice: only the crest's own bound is left
	a := advise(t, h, mustClass(t, "us-5axle"), Options{})
	if a.GearByM != 604-15 || a.SlowFromM != 604-15 {
		t.Errorf("gear by %.1f m, slow from %.1f m, want 589", a.GearByM, a.SlowFromM)
	}
	worst := 0.0
	for _, e := range h.ErrPct {
		worst = math.Max(worst, e)
	}
	if worst <= 0.5 {
		t.Error("a bridge left the bound as it was")
	}
	free := h
	free.Limits = nil
	f := advise(t, free, mustClass(t, "us-5axle"), Options{})
	if b := advise(t, PlainHill(6+worst, 2000), mustClass(t, "us-5axle"), Options{}); f.Gear != b.Gear || f.SpeedMPS != b.SpeedMPS {
		t.Errorf("gear %d at %.2f m/s; a plain hill of the grade and its bound gives gear %d at %.2f", f.Gear, f.SpeedMPS, b.Gear, b.SpeedMPS)
	}
	if c := a.Limits[1]; c.Reason != catalog.LimitPosted || c.SpeedMPS != 11 || c.StationM != 2000 {
		t.Errorf("posted: %+v", c)
	}
	// Backward over the same stretch it climbs: nothing pulls, and no limit applies.
	back := HillFromDescent(p, &routes.Descent{StartM: 2604, EndM: 604, Direction: routes.Backward}, limits)
	if back.DowngradePct[0] > -5.9 || math.Abs(back.RouteStationM(100)-2504) > 1e-9 {
		t.Errorf("backward: %.2f %%, %.1f m", back.DowngradePct[0], back.RouteStationM(100))
	}
	if c := advise(t, back, mustClass(t, "us-5axle"), Options{}); c.LimitedBy != catalog.LimitFreeRolling {
		t.Errorf("backward: %s", c.LimitedBy)
	}
}
