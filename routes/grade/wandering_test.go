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

// roughGround is a road of 12 km at 5 %, without cross-sections, with errors of a
// correlation length and size that are usual for the cell, times scale.
func roughGround(seed uint64, cellM, scale float64) *routes.Ground {
	rng := rand.New(rand.NewPCG(seed, 1))
	g := &routes.Ground{StepM: 10, LengthM: 12000, OffsetM: []float64{0}}
	tau, sigma := tauFromCell(cellM), sigmaFromCell(cellM)
	rho := math.Exp(-2 * 10 / tau)
	e := 0.0
	for i := range 1201 {
		m := 10 * float64(i)
		e = rho*e + math.Sqrt(1-rho*rho)*rng.NormFloat64()
		z := 800 - 0.05*m + scale*sigma*e
		g.SectionM = append(g.SectionM, float32(z))
		g.Miss, g.CellM = append(g.Miss, terrain.Hit), append(g.CellM, float32(cellM))
		g.Points = append(g.Points, orb.Point{-105 + float64(i)*1e-4, 40})
	}
	return g
}

// A line beside its road meets ground of many times the usual roughness. A line on
// the road is not called unreliable for usual ground nor for ground half as rough again.
func TestUnreliableByRoughness(t *testing.T) {
	for _, c := range []struct {
		what       string
		cellM      float64
		scale      float64
		isReliable bool
	}{
		{"usual", 10, 1, true}, {"usual", 30, 1, true}, {"rough", 10, 1.5, true},
		{"far too rough", 10, 3.5, false}, {"far too rough", 30, 3.5, false},
	} {
		for seed := uint64(1); seed <= 3; seed++ {
			q, err := Recover(context.Background(), roughGround(seed, c.cellM, c.scale), Options{})
			if err != nil {
				t.Fatal(err)
			}
			if q.Reliable != c.isReliable {
				t.Errorf("%s at %g m, seed %d: reliable %v: %s", c.what, c.cellM, seed, q.Reliable, q.Unreliable)
			} else if seed == 1 {
				t.Logf("%s at %g m: %s", c.what, c.cellM, q.Unreliable)
			}
		}
	}
}
