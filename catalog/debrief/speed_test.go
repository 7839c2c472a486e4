package debrief

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"gradeline/routes"
	"gradeline/routes/recorded"
)

// places is a pass with a point every stepS at places drawn by next, without speeds.
func places(n int, stepS float64, at func(i int) float64) []recorded.Place {
	out := make([]recorded.Place, n)
	for i := range out {
		out[i] = recorded.Place{Fix: &routes.Fix{At: time.Unix(0, 0), SpeedMPS: math.NaN(), EngineRPM: math.NaN()}, TimeS: stepS * float64(i), DistanceM: at(i)}
	}
	return out
}

func distance(p *recorded.Place) float64 { return p.DistanceM }

// White noise of 3 m scatters by 3 m: a second difference has √6 of the deviation, and the
// median of what is normal lies at 1/1.4826 of it (Φ⁻¹(3/4) = 0.67449).
func TestScatterOfWhiteNoise(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	pass := places(40000, 1, func(i int) float64 { return 12*float64(i) + 3*rng.NormFloat64() })
	near(t, "scatter", scatter(pass, 5, distance), 3, 0.06)
	if got := scatter(pass[:2], 5, distance); got != 5 {
		t.Errorf("two points: %g", got)
	}
	// Steps that differ by up to a fifth are even; others say nothing.
	for second, want := range map[float64]float64{1.24: 1, 1.26: 5} {
		uneven := places(3, 1, func(i int) float64 { return math.Mod(float64(i), 2) * math.Sqrt(6) / 2 / 1.4826 })
		uneven[2].TimeS = 1 + second
		near(t, "uneven steps", scatter(uneven, 5, distance), want, 1e-9)
	}
}

// Places that wander like Brownian motion: over a window of T the slope by least squares
// scatters by √(6/5·σ²/T), half the difference of the halves' slopes by √(σ²/T). The bound
// is twice the first, from the median of the second: 2·√1.2·1.4826 of it.
func TestBoundOfWanderingPlaces(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 1))
	x := 0.0
	pass := places(20000, 0.1, func(i int) float64 { x += 1.2 + 0.35*rng.NormFloat64(); return x })
	v, err := speedsOf(pass, "")
	if err != nil {
		t.Fatal(err)
	}
	var halves []float64
	for i := range pass {
		_, _, h := v.slope(i)
		halves = append(halves, h)
	}
	floor := slicesMin(v.errMPS)
	near(t, "bound over the halves' median", floor/median(halves), 2*math.Sqrt(1.2)*1.4826, 0.03*2*1.4826)
	var sum, n float64
	for i := 200; i < len(pass)-200; i++ {
		sum, n = sum+(v.speedMPS[i]-12)*(v.speedMPS[i]-12), n+1
	}
	if off := math.Sqrt(sum / n); !(floor > 1.7*off && floor < 2.4*off) {
		t.Errorf("a bound of %.3f for a scatter of %.3f m/s", floor, off)
	}
}

func slicesMin(list []float64) float64 {
	least := math.Inf(1)
	for _, x := range list {
		least = math.Min(least, x)
	}
	return least
}

// The window is the shortest of 4, 6, 10, 16 and 24 s whose bound is under 0.4 m/s, and at
// least two of the recorder's steps.
func TestWindowsOfSpeedsFromPlaces(t *testing.T) {
	for _, k := range []struct{ stepS, sigmaM, want float64 }{
		{1, 0, 4}, {2, 0, 4}, {2.1, 0, 6}, {3, 0, 6}, {4, 0, 10}, {5, 0, 10}, {6, 0, 16}, {8, 0, 16}, {9, 0, 24}, {12, 0, 24}, {13, 0, 26}, {20, 0, 40},
		{1, 0.62, 4}, {1, 0.64, 6}, {1, 1.04, 6}, {1, 1.08, 10}, {1, 30, 24},
	} {
		// A zigzag of one height has this for the deviation that its bends give.
		zig := k.sigmaM * math.Sqrt(6) / 1.4826 / 4
		v := driven{pass: places(200, k.stepS, func(i int) float64 { return 12*k.stepS*float64(i) + zig*float64(1-2*(i%2)) })}
		v.speedMPS, v.errMPS = make([]float64, 200), make([]float64, 200)
		v.sampleS, v.gapS, v.scatterM = k.stepS, 60, scatter(v.pass, 5, distance)
		near(t, "scatter", v.scatterM, k.sigmaM, 1e-6)
		v.fromPlaces()
		near(t, "window", v.windowS, k.want, 1e-9)
	}
}

// The bound of a slope by hand: twice the scatter over √Σ(t−t̄)², which is √10 s for five
// points a second apart, and never under 0.3 m/s.
func TestBoundOfASlope(t *testing.T) {
	for scatterM, want := range map[float64]float64{5: 2 * 5 / math.Sqrt(10), 0.1: 0.3} {
		v := driven{pass: places(20, 1, func(i int) float64 { return 12 * float64(i) }), scatterM: scatterM, windowS: 4, gapS: 10}
		speed, half, halves := v.slope(10)
		near(t, "speed", speed, 12, 1e-9)
		near(t, "bound", half, want, 1e-9)
		near(t, "halves", halves, 0, 1e-9)
	}
	// Twice as fast after the point: the halves differ by 12 m/s, and the bound is half of it.
	v := driven{pass: places(20, 1, func(i int) float64 { return 12*float64(i) + 12*math.Max(0, float64(i-10)) }), windowS: 4, gapS: 10}
	speed, half, halves := v.slope(10)
	near(t, "speed", speed, 18, 1e-9)
	near(t, "bound", half, 6, 1e-9)
	near(t, "halves", halves, 6, 1e-9)
	// A gap ends the window.
	for i := 11; i < 20; i++ {
		v.pass[i].TimeS += 60
	}
	if speed, _, _ = v.slope(10); math.Abs(speed-12) > 1e-9 {
		t.Errorf("before a gap %g m/s", speed)
	}
	// A point alone between gaps has the mean speed from the one before it.
	alone := driven{pass: places(3, 100, func(i int) float64 { return 1000 * float64(i) }), windowS: 4, gapS: 10}
	for i := range 3 {
		speed, _, _ := alone.slope(i)
		near(t, "alone", speed, 10, 1e-9)
	}
}

// withSpeeds is a steady drive at 12 m/s whose recorded speeds are given.
func withSpeeds(n int, stepS float64, speed func(i int) float64) []recorded.Place {
	pass := places(n, stepS, func(i int) float64 { return 12 * stepS * float64(i) })
	for i := range pass {
		pass[i].Fix.SpeedMPS = speed(i)
	}
	return pass
}

// A recorder's speeds are taken where nine tenths of the points have one; their bound is at
// least 0.15 m/s.
func TestRecordedSpeedsAreTakenFromNineTenthsOn(t *testing.T) {
	for every, want := range map[int]bool{10: true, 9: false} { // a tenth, a ninth without
		v, err := speedsOf(withSpeeds(90, 1, func(i int) float64 {
			if i%every == 5 {
				return math.NaN()
			}
			return 12
		}), "")
		if err != nil || v.isRecorded != want {
			t.Errorf("one of %d without: recorded %v, %v", every, v.isRecorded, err)
		}
		if want {
			near(t, "bound", v.errMPS[0], 0.15, 1e-12)
		}
	}
	// White noise of the recorder counts twice its deviation.
	rng := rand.New(rand.NewPCG(3, 1))
	v, err := speedsOf(withSpeeds(20000, 1, func(int) float64 { return 12 + 0.4*rng.NormFloat64() }), "")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "bound of noise", v.errMPS[0], 0.8, 0.02)
	// A point without a speed has the mean of its neighbours, and half their difference more.
	v, err = speedsOf(withSpeeds(60, 1, func(i int) float64 {
		switch {
		case i == 30 || i == 31:
			return math.NaN()
		case i > 31:
			return 12.5
		}
		return 12
	}), "")
	if err != nil {
		t.Fatal(err)
	}
	for _, i := range []int{30, 31} {
		near(t, "speed between", v.speedMPS[i], 12.25, 1e-9)
		near(t, "bound between", v.errMPS[i], v.errMPS[0]+0.25, 1e-9)
	}
	// At the ends the one neighbour.
	v, err = speedsOf(withSpeeds(60, 1, func(i int) float64 {
		switch i {
		case 0, 59:
			return math.NaN()
		case 58:
			return 12.4
		}
		return 12
	}), "")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "first", v.speedMPS[0], 12, 1e-9)
	near(t, "last", v.speedMPS[59], 12.4, 1e-9)
}

// Speeds are of another unit when they make the way a tenth longer or shorter than the
// places do, over more than 500 m.
func TestSpeedsOfAnotherUnitAreATenthOff(t *testing.T) {
	for _, k := range []struct {
		n     int
		share float64
		ok    bool
	}{{100, 1.096, true}, {100, 1.104, false}, {100, 0.904, true}, {100, 0.896, false}, {41, 2, true}, {45, 2, false}} {
		_, err := speedsOf(withSpeeds(k.n, 1, func(int) float64 { return 12 * k.share }), "")
		if (err == nil) != k.ok {
			t.Errorf("%d points at %g times the speed: %v", k.n, k.share, err)
		}
	}
}

// The way counts in blocks of 200 m by the speeds, or four times that by the places; a
// block in which neither comes to 100 m is a truck that stands.
func TestWaysOfSpeedsAndPlaces(t *testing.T) {
	way := func(n int, speed, at func(i int) float64) (float64, float64) {
		v := driven{pass: places(n, 1, at), gapS: 10}
		for i := range n {
			v.speedMPS = append(v.speedMPS, speed(i))
		}
		return v.waysM()
	}
	steady := func(v float64) func(int) float64 { return func(int) float64 { return v } }
	along := func(v float64) func(int) float64 { return func(i int) float64 { return v * float64(i) } }
	for _, k := range []struct {
		name               string
		n                  int
		speed, place       float64
		wantSpeed, wantWay float64
	}{
		{"steady", 101, 10, 10, 1000, 1000},
		{"99 m", 100, 1, 1, 0, 0},
		{"101 m", 102, 1, 1, 101, 101},
		{"the last block of 90 m is left out", 30, 10, 10, 200, 200},
		{"the last block of 110 m counts", 32, 10, 10, 310, 310},
		{"speeds of nothing", 101, 0, 10, 0, 1000},
	} {
		s, p := way(k.n, steady(k.speed), along(k.place))
		near(t, k.name+": by speed", s, k.wantSpeed, 1e-6)
		near(t, k.name+": by place", p, k.wantWay, 1e-6)
	}
	// Out and back within a block: its way is net. 20 s out and 20 s back at 5 m/s is
	// one block of 200 m by the speeds and none by the places.
	s, p := way(41, steady(5), func(i int) float64 { return 100 - math.Abs(100-5*float64(i)) })
	near(t, "out and back by speed", s, 200, 1e-6)
	near(t, "out and back by place", p, 0, 1e-6)
	// With speeds of nothing a block ends after 800 m of places: out 780 m and back is none.
	_, p = way(157, steady(0), func(i int) float64 { return 780 - math.Abs(780-10*float64(i)) })
	near(t, "780 m out and back", p, 0, 1e-6)
	_, p = way(165, steady(0), func(i int) float64 { return 820 - math.Abs(820-10*float64(i)) })
	near(t, "820 m out and back", p, 800+800, 1e-6)
}

// A recorder's step is the least difference of two speeds, and none over 5 km/h.
func TestStepOfRecordedSpeeds(t *testing.T) {
	for kmh, want := range map[float64]float64{1: 1 / 3.6, 4.9: 4.9 / 3.6, 5.1: 0} {
		pass := withSpeeds(9, 1, func(i int) float64 { return kmh / 3.6 * float64(3+i%3) })
		pass[4].Fix.SpeedMPS = math.NaN()
		near(t, "step", speedStepMPS(pass), want, 1e-9)
	}
}

// Between points more than 2 s apart the speed may have been either's; across a gap nobody
// knows it.
func TestSpeedBetweenPoints(t *testing.T) {
	for _, k := range []struct {
		stepS, wantErr float64
		ok             bool
	}{{2, 0.3, true}, {2.05, 0.3 + 2, true}, {9.9, 0.3 + 2, true}, {10.1, 0, false}} {
		v := driven{pass: places(2, k.stepS, func(i int) float64 { return 100 * float64(i) }), speedMPS: []float64{10, 14}, errMPS: []float64{0.2, 0.3}, gapS: 10}
		speed, half, ok := v.speedAt(25)
		if ok != k.ok {
			t.Fatalf("%g s apart: %v", k.stepS, ok)
		}
		if ok {
			near(t, "speed", speed, 11, 1e-9)
			near(t, "bound", half, k.wantErr, 1e-9)
		}
		if _, _, ok := v.speedAt(101); ok {
			t.Error("beyond the last point")
		}
	}
}

// 10 s without a point are a gap, or three of the recorder's steps.
func TestWhatAGapIs(t *testing.T) {
	for stepS, want := range map[float64]float64{1: 10, 3: 10, 4: 12, 10: 30} {
		near(t, "gap", gapOf(places(9, stepS, func(i int) float64 { return float64(i) })), want, 1e-9)
	}
	v := driven{pass: places(4, 4, func(i int) float64 { return float64(i) }), gapS: 10}
	v.pass[3].TimeS = 100
	for i, want := range []float64{2, 4, 2, 0} {
		near(t, "stands for", v.heldS(i), want, 1e-9)
	}
}

// Where no two steps of the recorder are even, the places are taken to scatter by 5 m, as a
// plain receiver's do (common practice, no source).
func TestScatterThatCannotBeSeen(t *testing.T) {
	pass := places(6, 1, func(i int) float64 { return 12 * float64(i) })
	for i := range pass {
		pass[i].TimeS = float64(i * i)
	}
	v, err := speedsOf(pass, "")
	if err != nil {
		t.Fatal(err)
	}
	near(t, "scatter", v.scatterM, 5, 1e-9)
}
