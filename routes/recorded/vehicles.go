package recorded

import (
	"math"

	"gradeline/routes"
	"gradeline/routes/stationing"
)

// A step of a recording that is longer than a truck can drive, beyond the receiver's own error.
const (
	jumpMPS   = 70.0
	jumpM     = 100.0
	mostJumps = 5
)

// AreSeveral reports whether a recording holds two vehicles, or places that cannot be right: its
// places jump faster than any truck drives, in more than one step of fifty. jumps are all such steps.
func AreSeveral(fixes []routes.Fix) (jumps int, several bool) {
	for i := 1; i < len(fixes); i++ {
		a, b := &fixes[i-1], &fixes[i]
		if math.Abs(b.LonDeg-a.LonDeg)+math.Abs(b.LatDeg-a.LatDeg) < 5e-4 { // under 60 m
			continue
		}
		if stationing.DistanceM([2]float64{a.LonDeg, a.LatDeg}, [2]float64{b.LonDeg, b.LatDeg}) > jumpM+jumpMPS*b.At.Sub(a.At).Seconds() {
			jumps++
		}
	}
	return jumps, jumps > mostJumps && jumps > len(fixes)/50
}
