package debrief_test

import (
	"fmt"
	"math"
	"time"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/debrief"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
	"gradeline/routes/stationing"
)

// A drive down an invented straight road of 2 km at 5 %, due east, at an even 10 m/s with a
// fix each second. It is held against advice of 12 m/s, which it never passes.
func ExampleFromDrive() {
	road := &routes.Profile{StepM: 5, LengthM: 2000, Reliable: true,
		Bound: routes.ErrorModel{SpanM: []float64{100, 1000}, SpanPct: []float64{0.2, 0.05}, FloorPct: 0.02}}
	for s := 0.0; s <= 2000; s += 5 {
		road.Points = append(road.Points, stationing.Direct(orb.Point{11, 46}, 90, s))
		road.ElevationM = append(road.ElevationM, 900-0.05*s)
		road.State = append(road.State, routes.Measured)
		road.RadiusM = append(road.RadiusM, math.Inf(1))
	}
	road.GroundM = road.ElevationM
	drive := &routes.Recording{Name: "drive.gpx"}
	for t := 0; t <= 190; t++ {
		p := stationing.Direct(orb.Point{11, 46}, 90, float64(10*t)+20)
		drive.Fixes = append(drive.Fixes, routes.Fix{At: time.Date(2026, 5, 4, 9, 0, t, 0, time.UTC),
			LonDeg: p[0], LatDeg: p[1], SpeedMPS: 10, EngineRPM: math.NaN()})
	}
	classes, err := holding.DefaultClasses()
	if err != nil {
		fmt.Println(err)
		return
	}
	us, err := vehicle.Fleet(classes, []string{"us-5axle"})
	if err != nil {
		fmt.Println(err)
		return
	}
	d, err := debrief.FromDrive(debrief.Input{Profile: road, Class: &us[0], Drive: drive, File: "drive.gpx",
		Advice:  &catalog.Hold{Class: "us-5axle", MassKg: us[0].MassMaxKg, Holds: true, Gear: 6, SpeedMPS: 8},
		Descent: &routes.Descent{ID: "example-road-f-0.0", Route: "Example Road", StartM: 100, EndM: 1900, LengthM: 1800}})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("pass %d of %d down %s, %.0f kg: over the advised speed by %.1f m/s in %d stretch\n", d.Pass, d.Passes, d.Descent, d.MassKg, d.OverMPS, len(d.Over))
	// Output:
	// pass 1 of 1 down example-road-f-0.0, 36287 kg: over the advised speed by 1.8 m/s in 1 stretch
}
