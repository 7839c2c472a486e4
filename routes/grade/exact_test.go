package grade

import (
	"context"
	"math"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// lineGround is a ground of one column whose heights are z.
func lineGround(z []float64, stepM, cellM float64) *routes.Ground {
	g := &routes.Ground{StepM: stepM, LengthM: float64(len(z)-1) * stepM, OffsetM: []float64{0}}
	for i, v := range z {
		g.SectionM = append(g.SectionM, float32(v))
		g.CellM = append(g.CellM, float32(cellM))
		g.Miss = append(g.Miss, 0)
		g.Source = append(g.Source, 0)
		g.Points = append(g.Points, orb.Point{float64(i) * stepM / 1e5, 45})
		g.RadiusM = append(g.RadiusM, math.Inf(1))
	}
	return g
}

// A plain grade is returned as it is: nothing shrinks it.
func TestLongNinePercentGradeIsNotShrunk(t *testing.T) {
	for _, cell := range []float64{1, 10, 30, 90} {
		dx := stepFromCell(cell)
		z := make([]float64, int(12000/dx)+1)
		for i := range z {
			z[i] = 1500 - 0.09*float64(i)*dx
		}
		q, err := Recover(context.Background(), lineGround(z, dx, cell), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if mean := 100 * (q.ElevationM[len(z)-1] - z[0]) / q.LengthM; math.Abs(mean+9) > 0.02 {
			t.Errorf("%g m cells: mean grade %.3f %%, want -9 within .02", cell, mean)
		}
	}
}
