package terrain_test

import (
	"errors"
	"fmt"

	"gradeline/terrain"
)

// A fault says what is wrong, where, and what to do; errors.Is finds its kind.
func ExampleFault() {
	stationM := 1200.0
	err := error(&terrain.Fault{Kind: terrain.ErrVoid, File: "dem.tif", StationM: &stationM, What: "no height there", Fix: "add a raster without a gap"})
	fmt.Println(err)
	fmt.Println(errors.Is(err, terrain.ErrVoid))
	// Output:
	// dem.tif: station 1200 m: no height there; add a raster without a gap
	// true
}

func ExampleParseVerticalUnit() {
	u, err := terrain.ParseVerticalUnit("us-ft")
	fmt.Printf("%s %.9f %v\n", u, u.MetresPer(), err)
	// Output: us-ft 0.304800610 <nil>
}
