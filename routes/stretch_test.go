package routes

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"
)

func drawnProfile(t *rapid.T) *Profile {
	n := rapid.IntRange(40, 200).Draw(t, "stations")
	stepM := rapid.Float64Range(0.7, 30).Draw(t, "step")
	p := &Profile{StepM: stepM, LengthM: float64(n-1) * stepM, Reliable: true, CellM: 10,
		Bound: ErrorModel{SpanM: []float64{100, 1000}, SpanPct: []float64{0.5, 0.1}, FloorPct: 0.05, EaseShare: 1, EaseM: 3 * stepM}}
	drawn := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	h := 0.0
	for i := range n {
		h += 2*drawn.Float64() - 1
		p.GroundM, p.ElevationM = append(p.GroundM, h+0.1), append(p.ElevationM, h)
		p.EaseM = append(p.EaseM, 0.01*float64(i%7))
		p.State = append(p.State, StationState(drawn.IntN(2)))
		p.Points, p.RadiusM = append(p.Points, orb.Point{1e-4 * float64(i), 45}), append(p.RadiusM, 100+float64(i))
	}
	p.Structures = []Structure{{FromM: 0, ToM: 2 * stepM}, {FromM: p.LengthM - 3*stepM, ToM: p.LengthM}}
	p.Coarser = []Part{{FromM: p.LengthM / 2, ToM: p.LengthM, Bound: ErrorModel{ElevationM: 1, SpanM: []float64{100}, SpanPct: []float64{2}, EaseShare: 1, EaseM: 3 * stepM}}}
	p.Doubtful = []Doubt{{FromM: 0, ToM: stepM, Why: "in doubt"}}
	return p
}

// A stretch says of every place within it what the whole profile says, and nothing of
// places outside.
func TestStretchAnswersAsTheWholeProfileDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := drawnProfile(t)
		loM := rapid.Float64Range(-5*p.StepM, p.LengthM/2).Draw(t, "lo")
		hiM := loM + rapid.Float64Range(20*p.StepM, p.LengthM).Draw(t, "long")
		s := p.Stretch(loM, hiM)
		if s.OriginM > math.Max(0, loM) || s.EndM() < math.Min(p.LengthM, hiM)-1e-6 || s.LengthM != p.LengthM {
			t.Fatalf("%g to %g m of %g became %g to %g of %g", loM, hiM, p.LengthM, s.OriginM, s.EndM(), s.LengthM)
		}
		// Inside by the span over which an ease is taken.
		in := rapid.Float64Range(s.OriginM+p.Bound.EaseM, s.EndM()-p.Bound.EaseM)
		a, b := in.Draw(t, "a"), in.Draw(t, "b")
		for what, pair := range map[string][2]float64{
			"elevation": {p.ElevationAtM(a), s.ElevationAtM(a)}, "longitude": {p.PointAt(a)[0], s.PointAt(a)[0]},
			"interpolated": {p.InterpolatedM(a, b), s.InterpolatedM(a, b)}, "ease": {p.EasePct(a, b), s.EasePct(a, b)},
		} {
			if !(math.Abs(pair[0]-pair[1]) < 1e-7*math.Max(1, math.Abs(pair[0]))) {
				t.Fatalf("%s at %g, %g m: whole %g, stretch %g", what, a, b, pair[0], pair[1])
			}
		}
		if w, g := p.MeanErrPct(a, b), s.MeanErrPct(a, b); math.Abs(a-b) > 1 && !(math.Abs(w-g) < 1e-6*w) {
			t.Fatalf("bound from %g to %g m: whole %g, stretch %g", a, b, w, g)
		}
		for i := range s.Count() {
			k := int(math.Round(p.IndexFromStationM(s.StationM(i))))
			if math.Abs(s.StationM(i)-p.StationM(k)) > 1e-6 || s.ElevationM[i] != p.ElevationM[k] || s.RadiusM[i] != p.RadiusM[k] || s.State[i] != p.State[k] {
				t.Fatalf("index %d at station %g is not index %d at %g", i, s.StationM(i), k, p.StationM(k))
			}
		}
		for _, out := range []float64{s.OriginM - p.StepM, s.EndM() + p.StepM} {
			if out < 0 || out > p.LengthM {
				continue
			}
			if !math.IsNaN(s.ElevationAtM(out)) || !math.IsNaN(s.PointAt(out)[0]) {
				t.Fatalf("station %g lies outside %g to %g m and has a height or a place", out, s.OriginM, s.EndM())
			}
		}
	})
}

func TestStretchKeepsWhatIsKnownOfItsRoute(t *testing.T) {
	p := &Profile{StepM: 10, LengthM: 1000, ElevationM: make([]float64, 101), GroundM: make([]float64, 101), State: make([]StationState, 101),
		Points: make([]orb.Point, 101), RadiusM: make([]float64, 101), Structures: []Structure{{FromM: 0, ToM: 50}, {FromM: 500, ToM: 600}},
		Coarser: []Part{{FromM: 0, ToM: 90}, {FromM: 590, ToM: 800}}, Doubtful: []Doubt{{FromM: 0, ToM: 90}, {FromM: 400, ToM: 410}}}
	s := p.Stretch(405, 595)
	if s.OriginM != 400 || s.EndM() != 600 || s.Count() != 21 || len(s.Structures) != 1 || len(s.Coarser) != 1 || len(s.Doubtful) != 1 {
		t.Errorf("%+v", s)
	}
	// 400 m before it and 400 m behind it are not known.
	if got := s.InterpolatedM(0, 1000); got != 800 {
		t.Errorf("%g m rest on no ground, want 800", got)
	}
	if p.Stretch(1200, 1300) != nil || p.Stretch(-200, -100) != nil {
		t.Error("a stretch that the profile does not reach")
	}
	if w := p.Stretch(-1e4, 1e4); w.OriginM != 0 || w.EndM() != 1000 || w.Count() != 101 {
		t.Errorf("the whole profile became %+v", w)
	}
}

// By hand: stations every 10 m, a void at 20 and 30 m, terrain that ends at 60 m.
func TestMissingStretches(t *testing.T) {
	p := &Profile{StepM: 10, LengthM: 75, State: []StationState{Measured, Measured, InVoid, OutsideTerrain, Measured, Measured, OutsideTerrain, OutsideTerrain}}
	if got := p.MissingStretches(); len(got) != 2 || got[0] != [2]float64{20, 40} || got[1] != [2]float64{60, 75} {
		t.Errorf("%v", got)
	}
	p.State = make([]StationState, 8)
	if got := p.MissingStretches(); got != nil {
		t.Errorf("all measured: %v", got)
	}
}
