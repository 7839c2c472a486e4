package holding

import (
	"math"
	"slices"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// windowed is a profile of 8 km at 6 %, with a part of 10 % over 200 m in the middle, on
// cells of 10 m.
func windowed() *routes.Profile {
	p := &routes.Profile{StepM: 10, LengthM: 8000, CellM: 10, Bound: routes.ErrorModel{SpanM: []float64{200, 500, 1000, 2000}, SpanPct: []float64{0.6, 0.3, 0.2, 0.1}, FloorPct: 0.02}}
	for i := 0; i <= 800; i++ {
		x := float64(i) * 10
		p.ElevationM = append(p.ElevationM, 1000-0.06*x-0.04*math.Max(0, math.Min(200, x-3900)))
		p.State = append(p.State, routes.Measured)
		p.RadiusM = append(p.RadiusM, math.Inf(1))
		p.Points = append(p.Points, orb.Point{})
	}
	return p
}

func hillBetween(p *routes.Profile, fromM, toM float64) Hill {
	return HillFromDescent(p, &routes.Descent{StartM: fromM, EndM: toM, MeanDowngradeErrPct: 0.05}, nil)
}

// By hand: a part 3.89 points steeper than the 2,000 m about it, less its own 200 m (the
// window stands half a step beside it), counts .6·(3.89 − 1) points more than its stated
// bound of .6; over 500 m it is 1.6 points steeper and counts .6·.6 = .36; over 1,000 m
// none.
func TestASteepPartMayBeSteeperThanSmoothingLeavesIt(t *testing.T) {
	h := hillBetween(windowed(), 1000, 7000)
	if len(h.Windows) != 4 {
		t.Fatalf("%d windows", len(h.Windows))
	}
	near := func(what string, got, want float64) {
		t.Helper()
		if math.Abs(got-want) > 0.02*want {
			t.Errorf("%s: %.4f points, by hand %.4f", what, got, want)
		}
	}
	near("200 m", slices.Max(h.ErrPct), 0.6+0.6*2.889)
	near("500 m", slices.Max(h.Windows[1].ErrPct), 0.3+0.6*0.6)
	near("1,000 m", slices.Max(h.Windows[2].ErrPct), 0.2)
	near("200 m elsewhere", h.ErrPct[0], 0.6)
	near("2,000 m", h.Windows[3].ErrPct[0], 0.1)
	p := windowed()
	p.CellM = 1
	near("200 m at 1 m cells", slices.Max(func() []float64 { h := hillBetween(p, 1000, 7000); return h.ErrPct }()), 0.6)
	p.CellM, p.Bound.SpanPct[0] = 100, 1.8
	near("200 m at 100 m cells", slices.Max(func() []float64 { h := hillBetween(p, 1000, 7000); return h.ErrPct }()), 1.164*1.8+1.2*2.889)
}

// The hill about a part is 2,000 m: where 900 m before it are level, they make it stand
// out more by their share of the 1,800 m.
func TestAPartIsComparedWithTwoKilometres(t *testing.T) {
	p := windowed()
	for i := range p.ElevationM {
		x := float64(i) * 10
		p.ElevationM[i] += 0.06 * math.Max(0, math.Min(400, x-3000)) // level from 3,000 to 3,400 m
	}
	h := hillBetween(p, 1000, 7000)
	about := (1800*6 - 400*6) / 1800.0
	if got, want := slices.Max(h.ErrPct), 0.6+0.6*(9.9-about-1.011); math.Abs(got-want) > 0.02*want {
		t.Errorf("%.3f points, by hand %.3f", got, want)
	}
}

// A mean that comes within 200 m of the route's end counts its bound 2.5 times on fine cells, three times with
// drives in the grade line.
func TestAMeanAtTheLinesEndIsKnownWorse(t *testing.T) {
	p := windowed()
	h := hillBetween(p, 5000, 8000)
	last := len(h.ErrPct) - 1
	if math.Abs(h.ErrPct[last]-1.5) > 1e-9 || h.ErrPct[0] != 0.6 {
		t.Errorf("bounds %.2f at the line's end, %.2f elsewhere", h.ErrPct[last], h.ErrPct[0])
	}
	for i, e := range h.ErrPct { // windows whose middle is within 300 m of the end
		if mid := 5000 + (h.StationM[i]+h.StationM[i+1])/2; (e > 0.6) != (mid >= 7705) {
			t.Errorf("bound %.2f at %.0f m", e, mid)
		}
	}
	p.CellM = 90 // its bound is narrower: it has drives
	if h := hillBetween(p, 5000, 8000); math.Abs(h.ErrPct[last]-1.8) > 1e-9 {
		t.Errorf("with drives: bound %.2f at the line's end", h.ErrPct[last])
	}
}

// A pitch at the line's end counts six bounds over 200 m at every cell size.
func TestAPitchAtTheLinesEnd(t *testing.T) {
	p := windowed()
	h := hillBetween(p, 6000, 8000)
	s, err := newSlope(&h, &Options{})
	if err != nil {
		t.Fatal(err)
	}
	first, last := s.sudden[0].errPct, s.sudden[len(s.sudden)-1].errPct
	if math.Abs(first-2*0.6) > 1e-9 || math.Abs(last-6*0.6) > 1e-9 {
		t.Errorf("±%.3f points on the first pitch, by hand 1.2; ±%.3f at the end, by hand 3.6", first, last)
	}
}

// Of a stated bound 1.15 times counts at 90 m cells, once up to 30 m.
func TestBoundsOfCoarseCells(t *testing.T) {
	p := windowed()
	p.CellM, p.Bound.SpanPct = 90, []float64{1.422, 0.9, 0.5, 0.3}
	h := hillBetween(p, 1000, 3000)
	if math.Abs(h.ErrPct[0]-1.15*1.422) > 1e-9 || math.Abs(h.Windows[0].ErrPct[0]-1.15*p.Bound.MeanErrPct(300, 0)) > 1e-9 {
		t.Errorf("90 m cells: ±%.4f and ±%.4f points", h.ErrPct[0], h.Windows[0].ErrPct[0])
	}
	for cellM, want := range map[float64]float64{0: 1, 10: 1, 30: 1, 51.9615242: 1.075, 90: 1.15, 1000: 1.225} {
		if got := hiddenPartTimes(cellM); math.Abs(got-want) > 1e-6 {
			t.Errorf("%g m cells: %.4f of the bound, want %.4f", cellM, got, want)
		}
	}
}

// A grade line that states no bounds of longer means, or none far enough, keeps the bound
// over 200 m, and a truck may gain nothing over it.
func TestWithoutWindowsTheBoundOf200MetresStands(t *testing.T) {
	p := windowed()
	p.Bound.EaseShare = 1 // and what smoothing took off is not kept with it
	c := mustClass(t, "us-5axle")
	for _, change := range []func(){func() {}, func() {
		p.Bound.EaseShare, p.Bound.SpanM, p.Bound.SpanPct = 0, []float64{200, 500, 900}, []float64{0.6, 0.3, 0.2}
	}} {
		change()
		h := hillBetween(p, 1000, 3000)
		if h.Windows != nil {
			t.Fatal("windows where none are stated")
		}
		q, err := newProblem(&h, &c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range q.long {
			if s.perM != 0 {
				t.Error("the truck may gain speed over a span whose bound is not known")
			}
		}
		a, b := advise(t, h, c, Options{}), advise(t, PlainHill(6.6, 2000), c, Options{AltitudeM: &h.ElevationM[0]})
		if a.Gear != b.Gear || a.SpeedMPS != b.SpeedMPS {
			t.Errorf("gear %d at %.2f m/s, on 6.6 %% gear %d at %.2f", a.Gear, a.SpeedMPS, b.Gear, b.SpeedMPS)
		}
	}
}

// By hand, for one window of 200 m at the steep end of its bound: with half of the reserve
// kept the force at the wheels may fall short by what lets v² grow, from the speed at
// which a stage begins to work to the governed one, over 200 m:
//
//	m·(A − (u² − v₁²)/(2·200)) = (1 − r/2)·F + ½ρCdA·v²
func TestTheSteepEndMayGainUpToTheGovernedSpeed(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := hillBetween(windowed(), 1000, 3500)
	for i := range h.Windows { // only the 200 m count
		for k := range h.Windows[i].ErrPct {
			h.Windows[i].ErrPct[k] = 0
		}
	}
	h.ErrPct = slices.Repeat([]float64{3}, len(h.ErrPct))
	h.GradeErrPct = 0
	p, err := newProblem(&h, &c, Options{TailwindMPS: calm})
	if err != nil {
		t.Fatal(err)
	}
	const gear = 6
	v, u := c.Truck.SpeedFromRPM(gear, 1600), c.Truck.SpeedFromRPM(gear, 2100)
	theta, jolt := math.Atan(0.09), math.Atan(0.06+2*0.03)
	A := 9.80665 * (math.Sin(theta) - 0.0053*math.Cos(theta))
	v1 := v + 1.1*9.80665*(math.Sin(jolt)-0.0053*math.Cos(jolt)) // after a second, and a tenth to see it
	// The engine's force is least at the low end, 218 kW at 1,600 rpm, and half of the losses help.
	force := 218000 * (1 + 0.05/2) / v
	rho := 1.225 * math.Pow(1-2.25577e-5*h.ElevationM[0], 4.25588)
	want := ((1-0.15/2)*force + rho/2*5*v*v) / (A - (u*u-v1*v1)/400)
	if got := p.heaviestKg(gear, v); math.Abs(got-want) > 0.01*want {
		t.Errorf("%.0f kg, by hand %.0f kg", got, want)
	}
}

// The whole reserve is kept at the steep end of the bound on cells of over 20 m, half of it
// below.
func TestTheReserveIsKeptAtTheBoundOnCoarseCells(t *testing.T) {
	for cellM, want := range map[float64]float64{0: 0.925, 10: 0.925, 20: 0.925, 21: 0.85, 30: 0.85, 90: 0.85} {
		p := problem{hill: &Hill{CellM: cellM}}
		if got := p.windowShare(0.85); math.Abs(got-want) > 1e-12 {
			t.Errorf("%g m cells: %g of the retarder, want %g", cellM, got, want)
		}
	}
}

// The share of the retarder's power that a stretch demands is a fact of truck, gear, speed and
// hill: the reserve that is asked for decides whether it is held, and changes no share.
func TestTheUseOfTheRetarderIsIndependentOfTheReserve(t *testing.T) {
	c := mustClass(t, "us-5axle")
	h := hillBetween(windowed(), 1000, 7000)
	const gear = 4
	v := c.Truck.SpeedFromRPM(gear, 1700)
	uses := map[float64]load{}
	for _, reservePct := range []float64{10, 15, 20, 40} {
		p, err := newProblem(&h, &c, Options{ReservePct: reservePct})
		if err != nil {
			t.Fatal(err)
		}
		w := p.worst(gear, v, p.massKg)
		uses[reservePct] = w
		if w.useShare != uses[10].useShare || w.useShare <= 0 || math.IsInf(w.useShare, 0) {
			t.Errorf("reserve %g %%: %.4f of the retarder in use, %.4f with 10 %%", reservePct, w.useShare, uses[10].useShare)
		}
		if share := w.demandW / w.availableW; share > w.useShare*(1+1e-12) {
			t.Errorf("reserve %g %%: the stretch closest to its limit demands %.4f, the most is %.4f", reservePct, share, w.useShare)
		}
	}
	plain := PlainHill(6, 8000)
	for _, reservePct := range []float64{15, 20} {
		a := advise(t, plain, c, Options{ReservePct: reservePct})
		p, err := newProblem(&plain, &c, Options{})
		if err != nil {
			t.Fatal(err)
		}
		if want := 100 * p.worst(a.Gear, a.SpeedMPS, a.MassKg).useShare; !a.Holds || math.Abs(a.RetarderUsePct-want) > 1e-9 {
			t.Errorf("reserve %g %%: %.2f %% in use in gear %d, want %.2f %%", reservePct, a.RetarderUsePct, a.Gear, want)
		}
	}
}
