package signs_test

import (
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/catalog/signs"
	"gradeline/routes"
)

// hill is an invented road: 6.2 % down over 1,500 m between level ends.
func hill() (*routes.Profile, routes.Descent) {
	p := &routes.Profile{StepM: 50, LengthM: 2500, CellM: 1, Reliable: true,
		Bound: routes.ErrorModel{EndM: 20, SpanM: []float64{100, 1000}, SpanPct: []float64{0.3, 0.1}, FloorPct: 0.05}}
	for i := range 51 {
		travelM := min(max(float64(i)*50-500, 0), 1500)
		p.ElevationM = append(p.ElevationM, 800-0.062*travelM)
		p.GroundM = append(p.GroundM, 800-0.062*travelM)
		p.State = append(p.State, routes.Measured)
		p.Points = append(p.Points, orb.Point{11 + 0.0006*float64(i), 46})
	}
	return p, routes.Descent{ID: "example", Route: "example", Direction: routes.Forward, StartM: 500, EndM: 2000, LengthM: 1500, DropM: 93, MeanDowngradePct: 6.2}
}

// A schedule says what a descent warrants under a named edition and where each sign
// would stand.
func ExamplePlan() {
	rules, err := signs.FindRuleSet("us-2023")
	if err != nil {
		fmt.Println(err)
		return
	}
	profile, descent := hill()
	s, err := signs.Plan(signs.Input{Descent: descent, Profile: profile, ApproachSpeedMPS: 24.6}, rules)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(s.Stretches[0].Verdict, "by", s.Stretches[0].Row)
	for _, p := range s.Placements {
		fmt.Printf("%s at station %.0f m: %s\n", p.Designation, p.StationM, p.Legend)
	}
	// Output:
	// warranted by 5 % or more, longer than 3,000 ft
	// W7-1a at station 348 m: 6% / NEXT 1 MILE
}

// The length of an escape ramp by the published formula, 90 mph into loose gravel that
// rises at 10 %.
func ExampleRampLengthFt() {
	ft, err := signs.RampLengthFt(90, 0.10, 10)
	fmt.Printf("%.0f ft, %v\n", ft, err)
	// Output: 1350 ft, <nil>
}
