package grade

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// A long hill steeper than any handbook likes is the one that must never be
// hidden: 11.5 % over 4.5 km on 10 m cells was taken for one structure after
// another once steep grades had a cost of their own, and came out as 1.7 km of
// 9.4 %. A straight line through clean ground is a road, however steep, up to
// the stated limit.
func TestALongSteepHillIsNoStructure(t *testing.T) {
	for _, gradePct := range []float64{9, 11.5, 14} {
		for _, cellM := range []float64{1, 10, 30} {
			g, crest, foot := steepHill(gradePct, cellM)
			p, err := Recover(context.Background(), g, Options{})
			if err != nil {
				t.Fatal(err)
			}
			got := 100 * (p.ElevationAtM(crest) - p.ElevationAtM(foot)) / (foot - crest)
			if math.Abs(got-gradePct) > 0.2 {
				t.Errorf("%g m cells: %.1f %% recovered as %.2f %%", cellM, gradePct, got)
			}
			away := 0
			for i, st := range p.State {
				if x := p.StationM(i); x > crest && x < foot && st != routes.Measured {
					away++
				}
			}
			if share := float64(away) * p.StepM / (foot - crest); share > 0.05 {
				t.Errorf("%g m cells, %.1f %%: %.0f %% of the hill is taken for structures", cellM, gradePct, 100*share)
			}
		}
	}
}

// steepHill is 2 km level, 4.5 km down, 2 km level, with the usual noise of its
// cells; crest and foot are stations well inside the hill.
func steepHill(gradePct, cellM float64) (g *routes.Ground, crestM, footM float64) {
	rng := rand.New(rand.NewPCG(11, uint64(cellM)))
	const total = 8500.0
	step := math.Max(5, math.Min(30, cellM/2))
	n := int(math.Round(total / step))
	g = &routes.Ground{StepM: total / float64(n), LengthM: total, OffsetM: []float64{0}}
	sigma, tau := sigmaFromCell(cellM), tauFromCell(cellM)
	rho := math.Exp(-2 * g.StepM / tau)
	e := sigma * rng.NormFloat64()
	for i := 0; i <= n; i++ {
		x := float64(i) * g.StepM
		e = rho*e + sigma*math.Sqrt(1-rho*rho)*rng.NormFloat64()
		// Parabolic crest and foot of 200 m.
		h := 1500 - gradePct/100*ramp(x)
		g.SectionM = append(g.SectionM, float32(h+e))
		g.Miss = append(g.Miss, terrain.Hit)
		g.CellM = append(g.CellM, float32(cellM))
		g.Source = append(g.Source, 0)
		g.Points = append(g.Points, orb.Point{x * 1e-5, 45})
		g.RadiusM = append(g.RadiusM, math.Inf(1))
	}
	return g, 2200, 6300
}

// ramp integrates a slope that rises from 0 to 1 over 1,900-2,100 m and falls
// back over 6,400-6,600 m.
func ramp(x float64) float64 {
	rise := func(x, at float64) float64 {
		switch d := x - at + 100; {
		case d <= 0:
			return 0
		case d < 200:
			return d * d / 400
		default:
			return x - at
		}
	}
	return rise(x, 2000) - rise(x, 6500)
}
