package descent

import (
	"math"
	"slices"
	"testing"

	"gradeline/routes"
)

// 400 m at 12 % within 6 %, all tangents: what is around it falls 6 %, so the part begins
// where the road passes 7 % and has its own mean.
func TestASteepPartWithinADescentIsListedWithItsOwnMean(t *testing.T) {
	p := road(leg{1000, 0}, leg{1500, -6}, leg{400, -12}, leg{1500, -6}, leg{1000, 0})
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		q := p
		if dir == routes.Backward {
			q = road(leg{1000, 0}, leg{1500, 6}, leg{400, 12}, leg{1500, 6}, leg{1000, 0})
		}
		ds := find(q, dir)
		if len(ds) != 1 || len(ds[0].SteepParts) != 1 {
			t.Fatalf("%v: %+v", dir, ds)
		}
		s := ds[0].SteepParts[0]
		startM, endM := 2500.0, 2900.0
		if dir == routes.Backward {
			startM, endM = endM, startM
		}
		near(t, "start", s.StartM, startM, 1e-6)
		near(t, "end", s.EndM, endM, 1e-6)
		near(t, "length", s.LengthM, 400, 1e-6)
		near(t, "mean", s.MeanDowngradePct, 12, 1e-6)
		// No fit that smooths less is known: twice the bound of the mean, .2 · 500/400.
		near(t, "bound", s.MeanDowngradeErrPct, 0.5, 1e-9)
		if s.Direction != dir {
			t.Errorf("direction %v, want %v", s.Direction, dir)
		}
	}
}

// The thresholds: 150 m, two points over what is around, 5 % outside any descent.
func TestSteepPartThresholds(t *testing.T) {
	for _, c := range []struct {
		what string
		legs []leg
		want int
	}{
		{"150 m", []leg{{1500, -6}, {150, -12}, {1500, -6}}, 1},
		{"140 m", []leg{{1500, -6}, {140, -12}, {1500, -6}}, 0},
		{"2.1 points steeper", []leg{{1500, -6}, {400, -8.1}, {1500, -6}}, 1},
		{"1.9 points steeper", []leg{{1500, -6}, {400, -7.9}, {1500, -6}}, 0},
		{"half of the descent", []leg{{1500, -6}, {1500, -8.1}}, 1},
		{"two, 250 m apart", []leg{{1500, -6}, {300, -12}, {250, -6}, {300, -12}, {1500, -6}}, 2},
		{"one with an easier 150 m", []leg{{1500, -6}, {300, -12}, {150, -6}, {300, -12}, {1500, -6}}, 1},
	} {
		p := road(append(append([]leg{{1000, 0}}, c.legs...), leg{1000, 0})...)
		ds := find(p, routes.Forward)
		if len(ds) != 1 || len(ds[0].SteepParts) != c.want {
			t.Errorf("%s: %d steep parts, want %d", c.what, len(ds[0].SteepParts), c.want)
		}
	}
	for _, c := range []struct {
		what string
		legs []leg
		want int
	}{
		{"500 m at 6.2 %", []leg{{500, -6.2}}, 1},
		{"150 m at 5.1 %", []leg{{150, -5.1}}, 1},
		{"140 m at 9 %", []leg{{140, -9}}, 0},
		{"500 m at 4.9 %", []leg{{500, -4.9}}, 0},
		{"700 m at 4.2 % around 200 m at 6 %", []leg{{250, -4.2}, {200, -6}, {250, -4.2}}, 1},
		{"a descent", []leg{{1500, -6}}, 0},
		{"a descent and a street", []leg{{1500, -6}, {1500, 0}, {400, -7}}, 1},
	} {
		p := road(append(append([]leg{{1000, 0}}, c.legs...), leg{1000, 0})...)
		if f := FindAll(p, routes.Forward, Options{}); len(f.SteepParts) != c.want {
			t.Errorf("%s: %+v, want %d outside any descent", c.what, f.SteepParts, c.want)
		}
		if f := FindAll(p, routes.Backward, Options{}); len(f.SteepParts) != 0 {
			t.Errorf("%s backward: %+v", c.what, f.SteepParts)
		}
	}
}

// A road's own limits are options.
func TestSteepPartLimitsAreOptions(t *testing.T) {
	p := road(leg{1000, 0}, leg{100, -4}, leg{1000, 0})
	if f := FindAll(p, routes.Forward, Options{SteepMinLengthM: 90, SteepMinPct: 3.5}); len(f.SteepParts) != 1 {
		t.Errorf("%+v", f)
	}
	p = road(leg{1000, 0}, leg{1500, -6}, leg{400, -7.2}, leg{1500, -6}, leg{1000, 0})
	if d := Find(p, routes.Forward, Options{SteepOverPct: 1})[0]; len(d.SteepParts) != 1 {
		t.Errorf("%+v", d.SteepParts)
	}
}

// Outside any descent a road of 4.7 % may reach 5 % where its bound over 150 m is twice
// .2 · 500/150 = 1.33 points; one of 3.6 % may not.
func TestPossibleSteepPartsAreALength(t *testing.T) {
	for _, c := range []struct{ gradePct, possibleM float64 }{{4.7, 700}, {3.6, 0}, {5.2, 0}} {
		p := road(leg{1000, 1}, leg{700, -c.gradePct}, leg{1000, 1})
		f := FindAll(p, routes.Forward, Options{})
		// Windows of 150 m reach some way over an end before their mean falls too low.
		if f.PossibleSteepM < c.possibleM || f.PossibleSteepM > c.possibleM+120 {
			t.Errorf("%v %%: %v m, want %v", c.gradePct, f.PossibleSteepM, c.possibleM)
		}
		if len(f.SteepParts) == 1 != (c.gradePct > 5) {
			t.Errorf("%v %%: %+v", c.gradePct, f.SteepParts)
		}
	}
}

// eased is a road whose grade line lost 1.5 points over 400 m to smoothing: it falls
// 10.5 % there, the fit that smooths less 12 %.
func eased() *routes.Profile {
	p := road(leg{1000, 0}, leg{1500, -6}, leg{400, -10.5}, leg{1500, -6}, leg{1000, 0})
	p.EaseM = make([]float64, p.Count())
	for i := range p.EaseM {
		s := p.StationM(i)
		p.EaseM[i] = 3 - 0.015*math.Max(0, math.Min(400, s-2500))
	}
	p.Bound.ShortM, p.Bound.ShortShare = []float64{100, 500}, []float64{3, 1}
	return p
}

// By hand: over 100 m the two fits differ by 1.5 points, and three times the bound of
// 100 m, .2 · 500/100, comes on top; over 500 m they differ by 6 of 500 m, and the bound
// counts once.
func TestTheSteepestHaveBoundsOfTheirOwn(t *testing.T) {
	d := find(eased(), routes.Forward)[0]
	near(t, "steepest 100", d.Steepest100Pct, 10.5, 1e-9)
	near(t, "bound of 100", d.Steepest100ErrPct, 1.5+3*1, 1e-9)
	near(t, "steepest 500", d.Steepest500Pct, (400*10.5+100*6)/500, 1e-9)
	near(t, "bound of 500", d.Steepest500ErrPct, 1.2+0.2, 1e-9)
	ofTheirOwn := eased() // shares of steepest windows leave the parts' bounds as they are
	ofTheirOwn.Bound.SteepestShare = []float64{4, 2}
	own := find(ofTheirOwn, routes.Forward)[0]
	near(t, "bound of 100 with its own share", own.Steepest100ErrPct, 1.5+4*1, 1e-9)
	near(t, "bound of 500 with its own share", own.Steepest500ErrPct, 1.2+2*0.2, 1e-9)
	near(t, "bound of the part", own.SteepParts[0].MeanDowngradeErrPct, d.SteepParts[0].MeanDowngradeErrPct, 1e-9)
	near(t, "steepest 1000", d.Steepest1000Pct, (400*10.5+600*6)/1000, 1e-9)
	if part := d.SteepParts[0]; math.Abs(part.MeanDowngradeErrPct-(1.5+0.2*500/400*(3-2*math.Log(4)/math.Log(5)))) > 1e-9 {
		t.Errorf("bound of the part %v", part.MeanDowngradeErrPct)
	}
	short := find(road(leg{1000, 0}, leg{900, -6}, leg{1000, 0}), routes.Forward)[0]
	if short.Steepest1000ErrPct != short.MeanDowngradeErrPct {
		t.Errorf("900 m: steepest 1,000 ± %v, mean ± %v", short.Steepest1000ErrPct, short.MeanDowngradeErrPct)
	}
}

// The bench of 300 m within 5.3 and 6.6 % is named with both means.
func TestABenchHasTheMeansBeforeAndAfterIt(t *testing.T) {
	p := road(leg{1000, 0}, leg{1200, -5.3}, leg{300, 0}, leg{1000, -6.6}, leg{250, 0}, leg{1100, -6.7}, leg{1000, 0})
	d := find(p, routes.Forward)
	if len(d) != 1 || len(d[0].Benches) != 2 {
		t.Fatalf("%+v", d)
	}
	b := d[0].Benches
	for _, c := range []struct {
		what             string
		got, want, errPt float64
		gotErr           float64
	}{
		// the bound of a short part without a calibration: twice the mean's
		{"before the first", b[0].BeforeMeanPct, 5.3, 2 * p.Bound.MeanErrPct(1200, 0), b[0].BeforeErrPct},
		{"after the first", b[0].AfterMeanPct, 6.6, 2 * p.Bound.MeanErrPct(1000, 0), b[0].AfterErrPct},
		{"before the second", b[1].BeforeMeanPct, 6.6, 2 * p.Bound.MeanErrPct(1000, 0), b[1].BeforeErrPct},
		{"after the second", b[1].AfterMeanPct, 6.7, 2 * p.Bound.MeanErrPct(1100, 0), b[1].AfterErrPct},
		{"the first", b[0].MeanDowngradePct, 0, 2 * p.Bound.MeanErrPct(300, 0), b[0].MeanDowngradeErrPct},
	} {
		near(t, c.what, c.got, c.want, 1e-6)
		near(t, c.what+", bound", c.gotErr, c.errPt, 1e-6)
	}
}

// Where an end tapers the outer one stands as far out as its bound reaches, the inner
// one stays; beyond the line there is none.
func TestOuterEndsStandOutwardsOnly(t *testing.T) {
	d := find(road(leg{1000, 0}, leg{2000, -6}, leg{400, -2.9}, leg{1000, 0}), routes.Forward)[0]
	if d.StartOuterM != d.StartM-20 || d.EndOuterM != d.EndM+410 {
		t.Errorf("outer %v to %v of %v to %v", d.StartOuterM, d.EndOuterM, d.StartM, d.EndM)
	}
	b := find(road(leg{1000, 0}, leg{400, 2.9}, leg{2000, 6}, leg{1000, 0}), routes.Backward)[0]
	if b.StartOuterM != b.StartM+20 || b.EndOuterM != b.EndM-410 {
		t.Errorf("backward: outer %v to %v of %v to %v", b.StartOuterM, b.EndOuterM, b.StartM, b.EndM)
	}
	if e := find(road(leg{2000, -6}, leg{1000, 0}), routes.Forward)[0]; e.StartOuterM != 0 {
		t.Errorf("at the line's start: outer %v", e.StartOuterM)
	}
}

func TestCrestAndFootHeightsHaveBounds(t *testing.T) {
	p := eased()
	p.Bound.ElevationM = 2
	p.State[440] = routes.OnBridge // the foot's station
	p.Noise.TauM = 900             // no end of the line is as near
	d := find(p, routes.Forward)[0]
	near(t, "crest", d.CrestElevationErrM, 2+3, 1e-9)
	near(t, "foot", d.FootElevationErrM, 2*2+3, 1e-9)
}

// A part outside any descent carries the flags of a descent: what its heights rest on, whether it
// is cut short, and whether it may be gentler than the 5 % that define it.
func TestFlagsOfAPartOutsideDescents(t *testing.T) {
	steep := []leg{{1000, 0}, {400, -7}, {1000, 0}}
	for what, c := range map[string]struct {
		legs   []leg
		change func(p *routes.Profile)
		want   []string
	}{
		"plain":           {steep, func(*routes.Profile) {}, []string{}},
		"unreliable line": {steep, func(p *routes.Profile) { p.Reliable = false }, []string{routes.FlagUnreliable}},
		"doubt on it":     {steep, func(p *routes.Profile) { p.Doubtful = []routes.Doubt{{FromM: 1100, ToM: 1200}} }, []string{routes.FlagUnreliable}},
		"doubt elsewhere": {steep, func(p *routes.Profile) { p.Doubtful = []routes.Doubt{{FromM: 100, ToM: 200}} }, []string{}},
		"near 5 %":        {[]leg{{1000, 0}, {400, -5.3}, {1000, 0}}, func(*routes.Profile) {}, []string{routes.FlagBorderline}},
		"at the end":      {[]leg{{1000, 0}, {400, -7}}, func(*routes.Profile) {}, []string{routes.FlagCutByEnd}},
		"a bridge":        {steep, func(p *routes.Profile) { setStates(p, 1050, 1250, routes.OnBridge) }, []string{routes.FlagInterpolated}},
	} {
		p := road(c.legs...)
		c.change(p)
		f := FindAll(p, routes.Forward, Options{})
		if len(f.SteepParts) != 1 || !slices.Equal(f.SteepParts[0].Flags, c.want) {
			t.Errorf("%s: %+v, want flags %v", what, f.SteepParts, c.want)
		}
	}
}

// setStates says what the stations from fromM to toM rest on.
func setStates(p *routes.Profile, fromM, toM float64, s routes.StationState) {
	for i := range p.State {
		if m := p.StationM(i); m >= fromM && m <= toM {
			p.State[i] = s
		}
	}
}
