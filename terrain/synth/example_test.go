package synth_test

import (
	"fmt"

	"gradeline/terrain/synth"
)

// A road of known truth: its line, its true grade line, a raster of the ground around it.
func ExampleNewRoad() {
	road, err := synth.NewRoad(synth.Options{Seed: 1, LengthM: 5000})
	if err != nil {
		fmt.Println(err)
		return
	}
	g, err := road.Grid(30)
	fmt.Println(len(road.TruthElevationM) == len(road.TruthStationM), g.StepX, err)
	// Output: true 30 <nil>
}
