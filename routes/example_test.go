package routes_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// A recovered grade line is read at any station; a stretch of it keeps the route's
// stations and knows nothing outside itself.
func ExampleProfile() {
	p := routes.Profile{
		StepM: 100, LengthM: 400,
		ElevationM: []float64{500, 494, 488, 480, 478},
		State:      make([]routes.StationState, 5), // all measured
		Points:     []orb.Point{{11, 46}, {11.001, 46}, {11.002, 46}, {11.003, 46}, {11.004, 46}},
	}
	fmt.Printf("height at 150 m: %.0f m\n", p.ElevationAtM(150))
	fmt.Printf("grade from 200 to 300 m: %.1f %%\n", p.GradePct(2))

	s := p.Stretch(200, 300)
	fmt.Printf("the stretch runs from %.0f to %.0f m\n", s.OriginM, s.EndM())
	fmt.Printf("height at 250 m: %.0f m, at 150 m: %.0f\n", s.ElevationAtM(250), s.ElevationAtM(150))
	// Output:
	// height at 150 m: 491 m
	// grade from 200 to 300 m: -8.0 %
	// the stretch runs from 200 to 300 m
	// height at 250 m: 484 m, at 150 m: NaN
}

// The bound of a mean grade narrows with length and widens over structures.
func ExampleErrorModel_MeanErrPct() {
	m := routes.ErrorModel{SpanM: []float64{100, 1000}, SpanPct: []float64{0.8, 0.1}, FloorPct: 0.05}
	fmt.Printf("over 100 m: ± %.2f points\n", m.MeanErrPct(100, 0))
	fmt.Printf("over 1,000 m: ± %.2f points\n", m.MeanErrPct(1000, 0))
	fmt.Printf("half of it on a bridge: ± %.2f points\n", m.MeanErrPct(1000, 500))
	// Output:
	// over 100 m: ± 0.80 points
	// over 1,000 m: ± 0.10 points
	// half of it on a bridge: ± 0.15 points
}
