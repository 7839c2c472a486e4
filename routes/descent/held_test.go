package descent

import (
	"math"
	"testing"

	"gradeline/routes"
)

// By hand, with 0.8 of 100/L points: ground beyond the end that falls .3 % joins within
// 80/2.7 = 29.6 m, which is two steps, and ground that falls .4 % within 80/2.6 = 30.8 m.
func TestTheShareOfTheMeansBoundHoldsAnEnd(t *testing.T) {
	for _, c := range []struct{ beyondPct, wantM float64 }{{-.3, 20}, {-.4, 30}} {
		d := find(road(leg{1000, c.beyondPct}, leg{2000, -6}, leg{1000, c.beyondPct}), routes.Forward)
		if len(d) != 1 || d[0].StartErrM != c.wantM || d[0].EndErrM != c.wantM {
			t.Errorf("%.1f %% beyond: %+v", c.beyondPct, d)
		}
	}
}

// A steep part outside any descent reaches as far as the road falls by three quarters of
// its limit: 3.75 % of 5.
func TestASteepPartEndsAtThreeQuartersOfItsLimit(t *testing.T) {
	for _, c := range []struct{ besidePct, wantM float64 }{{-3.8, 500}, {-3.65, 400}} {
		f := FindAll(road(leg{1000, 0}, leg{400, -5.6}, leg{100, c.besidePct}, leg{1000, 0}), routes.Forward, Options{})
		if len(f.Descents) != 0 || len(f.SteepParts) != 1 || math.Abs(f.SteepParts[0].LengthM-c.wantM) > 1e-6 {
			t.Errorf("%.2f %% beside it: %+v", c.besidePct, f)
		}
	}
}

// Two hills with a gap between them come in travel order in either direction.
func TestDescentsAcrossAGapAreInTravelOrder(t *testing.T) {
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		sign := -1.0
		if dir == routes.Backward {
			sign = 1
		}
		p := road(leg{500, 0}, leg{1500, 6 * sign}, leg{1000, 0}, leg{1500, 6 * sign}, leg{500, 0})
		for i := range p.ElevationM {
			if s := p.StationM(i); s > 2300 && s < 2700 {
				p.ElevationM[i] = math.NaN()
			}
		}
		d := find(p, dir)
		if len(d) != 2 || (d[0].StartM < d[1].StartM) != (dir == routes.Forward) {
			t.Errorf("%s: %+v", dir, d)
		}
	}
}

// Two stations are a grade line.
func TestTwoStationsAreALine(t *testing.T) {
	whole := road(leg{1000, -6})
	p := &routes.Profile{StepM: 1000, LengthM: 1000, ElevationM: []float64{60, 0}, GroundM: []float64{60, 0}, State: make([]routes.StationState, 2),
		Points: whole.Points[:2], RadiusM: []float64{math.Inf(1), math.Inf(1)}, Reliable: true, Bound: whole.Bound}
	if d := find(p, routes.Forward); len(d) != 1 || math.Abs(d[0].MeanDowngradePct-6) > 1e-9 {
		t.Errorf("%+v", d)
	}
}

// Ground beyond an end that falls just as the level asks keeps the end uncertain: over 2 km,
// not beyond.
func TestAnEndIsLookedForOverTwoKilometres(t *testing.T) {
	d := find(road(leg{500, 0}, leg{6000, -6}, leg{2900, -2.995}, leg{500, 0}), routes.Forward)
	if len(d) != 1 || math.Abs(d[0].EndErrM-2000) > 1e-6 {
		t.Errorf("%+v", d)
	}
}

// A quarter of a stretch without ground of its own is told, less is not.
func TestAQuarterOffTheGroundIsTold(t *testing.T) {
	p := road(leg{3000, -6})
	tr := tracks(p, routes.Forward)[0]
	for interpolatedM, isTold := range map[float64]bool{240: false, 260: true} {
		flags := tr.groundFlags(span{50, 150}, interpolatedM)
		if got := len(flags) == 1 && flags[0] == routes.FlagInterpolated; got != isTold {
			t.Errorf("%g m of 1,000: %v", interpolatedM, flags)
		}
	}
}

// What steep parts are compared with is the descent without what is steeper than its mean by
// half of their excess: of 4 km of 5 %, 600 m of 6.3 % and 600 m of 7.1 % the mean is 5.51 %,
// so only the 7.1 % are left out, the rest has 5.23 %, and 7.1 % is no steep part; 7.3 % is.
func TestWhatASteepPartIsComparedWith(t *testing.T) {
	for pct, parts := range map[float64]int{7.1: 0, 7.3: 1} {
		d := find(road(leg{500, 0}, leg{1000, -5}, leg{600, -6.3}, leg{1000, -5}, leg{600, -pct}, leg{800, -5}, leg{500, 0}), routes.Forward)
		if len(d) != 1 || len(d[0].SteepParts) != parts {
			t.Errorf("%g %%: %+v", pct, d)
		}
	}
}

// The stretches that are left out for it are those that keep above the mean by a quarter of
// the excess: 600 m of 5.9 % beside 600 m of 7.1 %, where the mean is 5.45 %, belong to the rest,
// which has 5.16 % with them and 5 % without.
func TestWhatIsLeftOutBesideASteepPart(t *testing.T) {
	for pct, parts := range map[float64]int{7.1: 0, 7.25: 1} {
		d := find(road(leg{500, 0}, leg{1400, -5}, leg{600, -5.9}, leg{600, -pct}, leg{1400, -5}, leg{500, 0}), routes.Forward)
		if len(d) != 1 || len(d[0].SteepParts) != parts {
			t.Errorf("%g %%: %+v", pct, d)
		}
	}
}

// A bench has 100 m at least, and costs 3 m of drop at least against 3 %.
func TestTheLeastBench(t *testing.T) {
	for _, c := range []struct {
		bench leg
		n     int
	}{{leg{100, 1}, 1}, {leg{90, 2}, 0}, {leg{110, 0}, 1}, {leg{110, -.5}, 0}, {leg{130, -.5}, 1}} {
		d := find(road(leg{500, 0}, leg{2000, -6}, c.bench, leg{2000, -6}, leg{500, 0}), routes.Forward)
		if len(d) != 1 || len(d[0].Benches) != c.n {
			t.Errorf("%+v: %+v", c.bench, d)
		}
	}
}

// A stretch of a grade line is described as it is, in either direction; one that reaches
// beyond the line, or runs against its direction, is none.
func TestMeasureDescribesAStretch(t *testing.T) {
	down, up := road(leg{3000, -6}), road(leg{3000, 6})
	for _, c := range []struct {
		p          *routes.Profile
		dir        routes.Direction
		start, end float64
		ok         bool
	}{
		{down, routes.Forward, 500, 1500, true}, {up, routes.Backward, 1500, 500, true}, {down, routes.Forward, 0, 3000, true}, {up, routes.Backward, 3000, 0, true},
		{down, routes.Forward, -100, 500, false}, {down, routes.Forward, 2500, 3100, false}, {down, routes.Forward, 1500, 500, false}, {up, routes.Backward, 500, 1500, false},
		{up, routes.Backward, 3100, 500, false}, {up, routes.Backward, 500, -100, false}, {down, routes.Forward, 700, 700, false},
	} {
		d, ok := Measure(c.p, c.dir, c.start, c.end, Options{})
		if ok != c.ok {
			t.Errorf("%s from %g to %g m: %t", c.dir, c.start, c.end, ok)
			continue
		}
		if ok && (math.Abs(d.StartM-c.start) > 1e-6 || math.Abs(d.EndM-c.end) > 1e-6 || math.Abs(d.MeanDowngradePct-6) > 1e-6 || math.Abs(d.LengthM-math.Abs(c.end-c.start)) > 1e-6) {
			t.Errorf("%s from %g to %g m: %+v", c.dir, c.start, c.end, d)
		}
	}
}

// A stretch of given ends may begin or end with a bench: there is no part before or after it.
func TestABenchAtTheEndOfAStretch(t *testing.T) {
	p := road(leg{500, 0}, leg{2000, -6}, leg{500, 0})
	for _, c := range []struct{ start, end, before, after float64 }{{0, 2000, 0, 6}, {1000, 3000, 6, 0}} {
		d, ok := Measure(p, routes.Forward, c.start, c.end, Options{})
		if !ok || len(d.Benches) != 1 {
			t.Fatalf("from %g to %g m: benches %+v", c.start, c.end, d.Benches)
		}
		b := d.Benches[0]
		isNear := math.Abs(b.BeforeMeanPct-c.before) < 1e-6 && math.Abs(b.AfterMeanPct-c.after) < 1e-6 // false for NaN
		if !isNear || (b.BeforeErrPct > 0) != (c.before > 0) || (b.AfterErrPct > 0) != (c.after > 0) || b.BeforeErrPct < 0 {
			t.Errorf("from %g to %g m: %+v", c.start, c.end, b)
		}
	}
}

// The steepest 105 m between stations of 10 m: the road falls by 1 % and by 9 % over 100 m of
// it, so 105 m fall by 9.05 m at most, and none that would reach beyond the stretch counts.
func TestTheSteepestWindowBetweenStations(t *testing.T) {
	heightM := []float64{0}
	for i := range 40 {
		fall := .1
		if i >= 20 && i < 30 {
			fall = .9
		}
		heightM = append(heightM, heightM[i]-fall)
	}
	for _, c := range []struct {
		s    span
		pct  float64
		from int
	}{
		{span{0, 40}, 100 * 9.05 / 105, 20}, {span{0, 31}, 100 * 9.05 / 105, 20}, {span{0, 30}, 100 * (.1 + 8.1 + .45) / 105, 19}, {span{0, 11}, 1, 0},
	} {
		pct, from := steepestWindow(heightM, nil, c.s, 105, 10)
		if math.Abs(pct-c.pct) > 1e-9 || from != c.from {
			t.Errorf("within %v: %.6f %% from %d, want %.6f from %d", c.s, pct, from, c.pct, c.from)
		}
	}
	if pct, _ := steepestWindow(heightM, nil, span{0, 10}, 105, 10); !math.IsInf(pct, -1) {
		t.Errorf("in 100 m: %g %%", pct)
	}
}

// What is left of a descent without its steep parts must be two fifths of it.
func TestTheRestOfADescentIsTwoFifthsAtLeast(t *testing.T) {
	tr := tracks(road(leg{2000, -6}), routes.Forward)[0]
	for to, ok := range map[int]bool{109: true, 111: false} { // of 100 intervals 59 and 61
		pct, got := tr.meanWithout(span{50, 150}, []span{{50, to}})
		if got != ok || ok && math.Abs(pct-6) > 1e-9 {
			t.Errorf("%d m left: %g %%, %t", 10*(150-to), pct, got)
		}
	}
}
