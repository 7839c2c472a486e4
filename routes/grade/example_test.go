package grade_test

import (
	"context"
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/terrain"
)

// A hill of 6 % over 3 km on 10 m cells, sampled on the line alone.
func ExampleRecover() {
	g := &routes.Ground{StepM: 5, LengthM: 3000, OffsetM: []float64{0}}
	for i := 0; i <= 600; i++ {
		s := 5 * float64(i)
		g.SectionM = append(g.SectionM, float32(900-0.06*s+0.3*math.Sin(s/40)))
		g.Miss, g.CellM = append(g.Miss, terrain.Hit), append(g.CellM, 10)
		g.Points, g.RadiusM = append(g.Points, orb.Point{-105 + s*1e-5, 40}), append(g.RadiusM, math.Inf(1))
	}
	p, err := grade.Recover(context.Background(), g, grade.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("reliable %v, %.1f %% ± %.1f over the middle 1,000 m\n", p.Reliable,
		(p.ElevationAtM(2000)-p.ElevationAtM(1000))/10, p.MeanErrPct(1000, 2000))
	// Output: reliable true, -6.0 % ± 0.1 over the middle 1,000 m
}
