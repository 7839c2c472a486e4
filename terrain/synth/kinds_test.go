package synth

import (
	"math"
	"testing"
)

// Each kind's parts have the length and the grade that it is named for, by the truth.
func TestKindsHaveTheirParts(t *testing.T) {
	for _, c := range []struct {
		kind                       Kind
		minM, maxM, minPct, maxPct float64
	}{
		{ShortSteepParts, 300, 500, 11, 13},
		{ShortBenches, 200, 500, 0, 1},
		{EndsOnSlopes, 800, 6000, 3, 8},
	} {
		for seed := uint64(1); seed <= 3; seed++ {
			r, err := NewRoad(Options{Seed: seed, Kind: c.kind})
			if err != nil {
				t.Fatal(err)
			}
			if len(r.Parts) < 2 {
				t.Errorf("kind %d, seed %d: %d parts", c.kind, seed, len(r.Parts))
			}
			for _, p := range r.Parts {
				// The line is some per cent longer or shorter than the road, and a tangent
				// is lengthened where its curves need more.
				if l := p.ToM - p.FromM; l < 0.8*c.minM || l > 1.7*c.maxM || math.Abs(p.GradePct) < c.minPct || math.Abs(p.GradePct) > c.maxPct {
					t.Errorf("kind %d, seed %d: part of %.0f m at %.1f %%", c.kind, seed, l, p.GradePct)
				}
				mid := (p.FromM + p.ToM) / 2
				if c.kind == EndsOnSlopes {
					continue // the last part runs beyond the line
				}
				if g := 100 * (r.TruthAtM(mid+20) - r.TruthAtM(mid-20)) / 40; math.Abs(g-p.GradePct) > 1.3 { // the line is longer or shorter than the road
					t.Errorf("kind %d, seed %d: %.2f %% at %.0f m, want %.2f", c.kind, seed, g, mid, p.GradePct)
				}
			}
			if c.kind == EndsOnSlopes && (r.Parts[0].FromM > 1 || r.Parts[1].ToM < r.LengthM-1) {
				t.Errorf("seed %d: %+v of %.0f m", seed, r.Parts, r.LengthM)
			}
		}
	}
	if _, err := NewRoad(Options{Kind: EndsOnSlopes + 1}); err == nil {
		t.Error("a kind that is none passed")
	}
}

// A kind changes the profile and nothing of the plan; a generalised line has a vertex
// each 300 m and ends where the road does.
func TestAGeneralisedLine(t *testing.T) {
	plain, err := NewRoad(Options{Seed: 3})
	if err != nil {
		t.Fatal(err)
	}
	r, err := NewRoad(Options{Seed: 3, VertexEveryM: 300})
	if err != nil {
		t.Fatal(err)
	}
	if n, want := len(r.Line), int(plain.LengthM/300); n < want-2 || n > want+3 || r.LengthM > plain.LengthM {
		t.Errorf("%d vertices over %.0f m, of %d over %.0f", n, r.LengthM, len(plain.Line), plain.LengthM)
	}
	if r.Line[0] != plain.Line[0] || r.Line[len(r.Line)-1] != plain.Line[len(plain.Line)-1] {
		t.Error("the ends moved")
	}
}
