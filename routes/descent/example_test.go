package descent_test

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/descent"
)

// Two kilometres at 6 % with 400 m at 11 % in them.
func ExampleFindAll() {
	p := &routes.Profile{StepM: 10, LengthM: 4000, Reliable: true,
		Bound: routes.ErrorModel{EndM: 20, SpanM: []float64{500, 5000}, SpanPct: []float64{0.2, 0.05}}}
	heightM := 1000.0
	for s := 0.0; s <= p.LengthM; s += p.StepM {
		p.ElevationM, p.State = append(p.ElevationM, heightM), append(p.State, routes.Measured)
		p.Points, p.RadiusM = append(p.Points, orb.Point{s * 1e-5, 45}), append(p.RadiusM, math.Inf(1))
		switch {
		case s >= 1800 && s < 2200:
			heightM -= 1.1
		case s >= 1000 && s < 3000:
			heightM -= 0.6
		}
	}
	found := descent.FindAll(p, routes.Forward, descent.Options{})
	for _, d := range found.Descents {
		fmt.Printf("%.0f to %.0f m, %.1f %%\n", d.StartM, d.EndM, d.MeanDowngradePct)
		for _, s := range d.SteepParts {
			fmt.Printf("in it %.0f to %.0f m, %.1f ± %.1f %%\n", s.StartM, s.EndM, s.MeanDowngradePct, s.MeanDowngradeErrPct)
		}
	}
	// Output:
	// 1000 to 3000 m, 7.0 %
	// in it 1800 to 2200 m, 11.0 ± 0.5 %
}
