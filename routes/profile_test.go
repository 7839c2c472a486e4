package routes

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

func model() ErrorModel {
	return ErrorModel{EndM: 50, ElevationM: 2, FloorPct: 0.05, SpanM: []float64{100, 1000, 4000}, SpanPct: []float64{1, 0.4, 0.1}}
}

func TestMeanErrPctFallsWithLengthAndHasAFloor(t *testing.T) {
	m := model()
	last := math.Inf(1)
	for _, lengthM := range []float64{10, 50, 100, 300, 1000, 2000, 4000, 8000, 1e5} {
		e := m.MeanErrPct(lengthM, 0)
		if !(e <= last) || e < m.FloorPct {
			t.Errorf("%v m: %v after %v", lengthM, e, last)
		}
		last = e
	}
	for lengthM, want := range map[float64]float64{50: 2, 100: 1, 1000: 0.4, 4000: 0.1, 8000: 0.05, 1e6: 0.05} {
		if got := m.MeanErrPct(lengthM, 0); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v m: %v, want %v", lengthM, got, want)
		}
	}
	// Half way in log length between two spans the bound is half way too.
	if got := m.MeanErrPct(math.Sqrt(100*1000), 0); math.Abs(got-0.7) > 1e-12 {
		t.Errorf("between: %v", got)
	}
}

func TestInterpolatedGroundWidensTheBound(t *testing.T) {
	m := model()
	if m.MeanErrPct(1000, 500) != 1.5*m.MeanErrPct(1000, 0) || m.MeanErrPct(1000, 9999) != 2*m.MeanErrPct(1000, 0) {
		t.Errorf("%v, %v", m.MeanErrPct(1000, 500), m.MeanErrPct(1000, 9999))
	}
}

func TestWhatSmoothingTookOffWidensTheBound(t *testing.T) {
	m := model()
	m.EaseShare = 1.5
	p := Profile{StepM: 50, LengthM: 200, Bound: m, ElevationM: make([]float64, 5), State: make([]StationState, 5), EaseM: []float64{0, 0, -2, -2, -2}}
	for _, c := range []struct{ a, b, easedPct float64 }{{0, 50, 0}, {50, 100, -6}, {100, 50, -6}, {75, 100, -6}, {0, 200, -1.5}, {100, 200, 0}} {
		if got := p.EasePct(c.a, c.b); math.Abs(got-c.easedPct) > 1e-12 {
			t.Errorf("%v to %v m: %v points, want %v", c.a, c.b, got, c.easedPct)
		}
		want := m.MeanErrPct(math.Abs(c.b-c.a), 0) + math.Abs(c.easedPct)
		if got := p.MeanErrPct(c.a, c.b); math.Abs(got-want) > 1e-12 {
			t.Errorf("%v to %v m: bound %v, want %v", c.a, c.b, got, want)
		}
	}
}

func TestWithoutCalibrationNothingIsBounded(t *testing.T) {
	if e := (ErrorModel{}).MeanErrPct(1000, 0); !math.IsInf(e, 1) {
		t.Errorf("%v", e)
	}
	if e := model().MeanErrPct(0, 0); !math.IsInf(e, 1) {
		t.Errorf("no length: %v", e)
	}
}

func TestProfileIsReadBetweenStationsAndNotBeyond(t *testing.T) {
	p := Profile{StepM: 10, LengthM: 30, ElevationM: []float64{100, 99, math.NaN(), 97}, Points: []orb.Point{{0, 0}, {1, 0}, {2, 0}, {3, 0}}}
	if e := p.ElevationAtM(5); e != 99.5 {
		t.Errorf("5 m: %v", e)
	}
	for _, s := range []float64{-1, 15, 31, math.NaN()} {
		if e := p.ElevationAtM(s); !math.IsNaN(e) {
			t.Errorf("%v m: %v, want not a number", s, e)
		}
	}
	if e := p.ElevationAtM(30); e != 97 {
		t.Errorf("the last station: %v", e)
	}
	if g := p.GradePct(0); g != -10 {
		t.Errorf("grade %v", g)
	}
	if pt := p.PointAt(15); pt != (orb.Point{1.5, 0}) {
		t.Errorf("%v", pt)
	}
}

// Within a correlation length of the line's end a height's bound is 1.25 times as wide,
// over a structure twice.
func TestAHeightNearTheLinesEndIsKnownWorse(t *testing.T) {
	p := Profile{StepM: 50, LengthM: 1000, Bound: model(), State: make([]StationState, 21), ElevationM: make([]float64, 21), Noise: Noise{TauM: 100}}
	p.State[10] = InTunnel
	for stationM, wantM := range map[float64]float64{0: 2.5, 50: 2.5, 100: 2, 500: 4, 850: 2, 950: 2.5, 1000: 2.5} {
		if got := p.ElevationErrM(stationM); math.Abs(got-wantM) > 1e-12 {
			t.Errorf("at %v m: %v, want %v", stationM, got, wantM)
		}
	}
}
