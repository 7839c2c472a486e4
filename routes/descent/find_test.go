package descent

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// leg is a stretch of even grade, per cent, rising positive.
type leg struct{ lengthM, gradePct float64 }

// road makes a profile on 10 m stations from legs, with fixed bounds.
func road(legs ...leg) *routes.Profile {
	var knotM, heightM = []float64{0}, []float64{1000}
	for _, l := range legs {
		n := len(knotM) - 1
		knotM = append(knotM, knotM[n]+l.lengthM)
		heightM = append(heightM, heightM[n]+l.lengthM*l.gradePct/100)
	}
	total := knotM[len(knotM)-1]
	n := int(math.Round(total / 10))
	p := &routes.Profile{StepM: total / float64(n), LengthM: total, Reliable: true,
		Bound: routes.ErrorModel{EndM: 20, SpanM: []float64{500, 5000}, SpanPct: []float64{0.2, 0.05}}}
	k := 0
	for i := 0; i <= n; i++ {
		s := math.Min(float64(i)*p.StepM, total)
		for k < len(legs)-1 && s > knotM[k+1] {
			k++
		}
		p.ElevationM = append(p.ElevationM, heightM[k]+(s-knotM[k])*legs[k].gradePct/100)
		p.State = append(p.State, routes.Measured)
		p.Points = append(p.Points, orb.Point{s * 1e-5, 45})
		p.RadiusM = append(p.RadiusM, math.Inf(1))
	}
	return p
}

func find(p *routes.Profile, d routes.Direction) []routes.Descent { return Find(p, d, Options{}) }

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %v, want %v ± %v", what, got, want, tol)
	}
}

func TestOneHillHasItsOwnFigures(t *testing.T) {
	p := road(leg{2000, 0}, leg{3000, -6}, leg{2000, 0})
	r := 120.0
	p.RadiusM[300] = r
	ds := find(p, routes.Forward)
	if len(ds) != 1 || len(find(p, routes.Backward)) != 0 {
		t.Fatalf("found %d forward, %d backward", len(ds), len(find(p, routes.Backward)))
	}
	d := ds[0]
	near(t, "start", d.StartM, 2000, 10)
	near(t, "end", d.EndM, 5000, 10)
	near(t, "length", d.LengthM, 3000, 10)
	near(t, "drop", d.DropM, 180, 0.6)
	near(t, "mean", d.MeanDowngradePct, 6, 0.02)
	near(t, "steepest 500", d.Steepest500Pct, 6, 1e-9)
	near(t, "crest", d.CrestElevationM, 1000, 0.6)
	near(t, "foot", d.FootElevationM, 820, 0.6)
	if d.TightestRadiusM == nil || *d.TightestRadiusM != r || *d.TightestRadiusAtM != 3000 {
		t.Errorf("tightest radius %v at %v", d.TightestRadiusM, d.TightestRadiusAtM)
	}
	if len(d.Flags) != 0 || len(d.Benches) != 0 {
		t.Errorf("flags %v benches %v", d.Flags, d.Benches)
	}
}

func TestBackwardTravelMirrors(t *testing.T) {
	p := road(leg{1000, 0}, leg{2500, 7}, leg{1000, 0})
	ds := find(p, routes.Backward)
	if len(ds) != 1 {
		t.Fatalf("found %d", len(ds))
	}
	near(t, "start", ds[0].StartM, 3500, 10)
	near(t, "end", ds[0].EndM, 1000, 10)
	near(t, "mean", ds[0].MeanDowngradePct, 7, 0.03)
}

// Relief arithmetic of the rule, on a grade line without error: 12 m is 400 m at 0 %, 600 m at 1 %, 240 m of 2 % climb.
func TestReliefMergesAndBreaksAtTwelveMetres(t *testing.T) {
	for _, c := range []struct {
		relief leg
		want   int
	}{
		{leg{390, 0}, 1}, {leg{410, 0}, 2},
		{leg{590, -1}, 1}, {leg{610, -1}, 2},
		{leg{230, 2}, 1}, {leg{250, 2}, 2},
		{leg{300, 0}, 1}, {leg{500, 0}, 2},
	} {
		p := road(leg{1000, 0}, leg{5000, -6}, c.relief, leg{5000, -6}, leg{1000, 0})
		p.Bound.SpanPct = []float64{0, 0}
		if got := len(find(p, routes.Forward)); got != c.want {
			t.Errorf("relief of %v m at %v %%: %d descents, want %d", c.relief.lengthM, c.relief.gradePct, got, c.want)
		}
	}
}

func TestBenchIsNamed(t *testing.T) {
	p := road(leg{1000, 0}, leg{3000, -6}, leg{300, 0}, leg{3000, -6}, leg{1000, 0})
	d := find(p, routes.Forward)[0]
	if len(d.Benches) != 1 {
		t.Fatalf("benches %v", d.Benches)
	}
	near(t, "bench start", d.Benches[0].StartM, 4000, 10)
	near(t, "bench length", d.Benches[0].LengthM, 300, 20)
	near(t, "bench grade", d.Benches[0].MeanDowngradePct, 0, 0.5)
}

func TestThresholdsAndBorderline(t *testing.T) {
	for _, c := range []struct {
		lengthM, gradePct float64
		found, nearMiss   bool
	}{
		{5000, 4.02, true, false}, {5000, 3.98, false, true},
		{800, 5, true, false}, {790, 5, false, true}, {700, 5, false, false},
		{5000, 3.5, false, false},
	} {
		p := road(leg{2000, 1}, leg{c.lengthM, -c.gradePct}, leg{2000, 1})
		ds := find(p, routes.Forward)
		if (len(ds) == 1) != c.found {
			t.Errorf("%v m at %v %%: found %d", c.lengthM, c.gradePct, len(ds))
		}
		if c.found && !ds[0].HasFlag(routes.FlagBorderline) {
			t.Errorf("%v m at %v %%: not flagged borderline", c.lengthM, c.gradePct)
		}
		if n := len(FindAll(p, routes.Forward, Options{}).Near); (n == 1) != c.nearMiss {
			t.Errorf("%v m at %v %%: %d near misses", c.lengthM, c.gradePct, n)
		}
	}
}

func TestSteepPartInsideAGentleHillIsFoundAtTheSecondLevel(t *testing.T) {
	// Whole: 3.5 % mean, not reported; the 1.5 km at 5 % inside is.
	p := road(leg{1000, 0}, leg{4000, -3.1}, leg{1500, -5}, leg{4000, -3.1}, leg{1000, 0})
	ds := find(p, routes.Forward)
	if len(ds) != 1 {
		t.Fatalf("found %d", len(ds))
	}
	near(t, "length", ds[0].LengthM, 1500, 20)
	near(t, "mean", ds[0].MeanDowngradePct, 5, 0.05)
}

func TestGapsBreakAndAreFlagged(t *testing.T) {
	p := road(leg{1000, 0}, leg{4000, -6}, leg{1000, 0})
	for i := 250; i < 270; i++ {
		p.ElevationM[i] = math.NaN()
	}
	ds := find(p, routes.Forward)
	if len(ds) != 2 || !ds[0].HasFlag(routes.FlagCutByEnd) || !ds[1].HasFlag(routes.FlagCutByEnd) {
		t.Fatalf("%d descents: %+v", len(ds), ds)
	}
}

func TestInterpolatedLengthCounts(t *testing.T) {
	p := road(leg{1000, 0}, leg{2000, -6}, leg{1000, 0})
	for i := 150; i < 250; i++ {
		p.State[i] = routes.InTunnel
	}
	d := find(p, routes.Forward)[0]
	near(t, "interpolated", d.InterpolatedM, 1000, 1e-6)
	if !d.HasFlag(routes.FlagInterpolated) {
		t.Errorf("flags %v", d.Flags)
	}
	p.Reliable = false
	if d := find(p, routes.Forward)[0]; !d.HasFlag(routes.FlagUnreliable) {
		t.Errorf("a descent on an unreliable profile is not flagged: %v", d.Flags)
	}
}

func TestFlatRoadHasNone(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 0))
	var legs []leg
	for range 1000 { // 1,000 km within ±2.5 %
		legs = append(legs, leg{1000, rng.Float64()*5 - 2.5})
	}
	p := road(legs...)
	if a, b := find(p, routes.Forward), find(p, routes.Backward); len(a)+len(b) != 0 {
		t.Errorf("%d false descents", len(a)+len(b))
	}
}

func TestMaximalAgreesWithTheDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var score []float64 // eighths, each with an irrational speck: no two sums tie, where the definition leaves a choice
		for i, v := range rapid.SliceOfN(rapid.IntRange(-24, 24).Filter(func(v int) bool { return v != 0 }), 1, 40).Draw(t, "eighths") {
			score = append(score, float64(v)/8+1e-6*math.Sqrt(float64(2*i+3)))
		}
		got := maximal(score)
		want := byDefinition(score, 0, len(score))
		if len(got) != len(want) {
			t.Fatalf("got %v want %v", got, want)
		}
		for i := range got {
			if got[i] != want[i] {
				t.Fatalf("got %v want %v", got, want)
			}
		}
	})
}

// byDefinition finds the best segment, then searches left and right of it, as
// the paper defines all maximal scoring subsequences.
func byDefinition(score []float64, from, to int) []span {
	best, b := 0.0, span{}
	for i := from; i < to; i++ {
		sum := 0.0
		for j := i; j < to; j++ {
			sum += score[j]
			if sum > best {
				best, b = sum, span{i, j + 1}
			}
		}
	}
	if best <= 0 {
		return nil
	}
	out := byDefinition(score, from, b.from)
	out = append(out, b)
	return append(out, byDefinition(score, b.to, to)...)
}

func TestReversingARouteSwapsDirections(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 25).Draw(t, "legs")
		var legs, back []leg
		for range n {
			l := leg{float64(rapid.IntRange(10, 300).Draw(t, "len")) * 10, float64(rapid.IntRange(-90, 90).Draw(t, "grade"))/10 + 0.03} // clear of 3 % and 4 %, where rounding decides
			legs = append(legs, l)
			back = append([]leg{{l.lengthM, -l.gradePct}}, back...)
		}
		a, b := road(legs...), road(back...)
		fwd, rev := find(a, routes.Backward), find(b, routes.Forward)
		if len(fwd) != len(rev) {
			t.Fatalf("%d and %d descents", len(fwd), len(rev))
		}
		for i := range fwd {
			if math.Abs(a.LengthM-fwd[i].StartM-rev[i].StartM) > 1e-3 || math.Abs(fwd[i].DropM-rev[i].DropM) > 1e-6 {
				t.Fatalf("%+v and %+v", fwd[i], rev[i])
			}
			if fwd[i].MeanDowngradePct < 4-1e-9 || fwd[i].LengthM < 800-1e-6 {
				t.Fatalf("below threshold: %+v", fwd[i])
			}
			if fwd[i].Steepest100Pct < fwd[i].Steepest500Pct-1e-9 || fwd[i].Steepest1000Pct < fwd[i].MeanDowngradePct-1e-9 && fwd[i].LengthM >= 2000 {
				t.Fatalf("windows out of order: %+v", fwd[i])
			}
		}
	})
}

func BenchmarkFind1000km(b *testing.B) {
	rng := rand.New(rand.NewPCG(21, 0))
	var legs []leg
	for range 2000 {
		legs = append(legs, leg{500, rng.Float64()*16 - 8})
	}
	p := road(legs...)
	b.ResetTimer()
	for range b.N {
		if len(find(p, routes.Forward)) == 0 {
			b.Fatal("none")
		}
	}
}
