package recorded_test

import (
	"fmt"
	"time"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/recorded"
)

// Two fixes of a drive are laid on a line of 1,113 m along the equator.
func ExampleLine_Lay() {
	points := []orb.Point{{0, 0}, {0.01, 0}}
	line, _ := recorded.NewLine(points, []float64{0, 1113.2}, points[0])
	on, _ := line.Lay([]routes.Fix{
		{At: time.Unix(0, 0), LonDeg: 0.002, LatDeg: 0.00005},
		{At: time.Unix(10, 0), LonDeg: 0.004, LatDeg: 0},
	})
	for _, p := range on {
		fmt.Printf("%.0f s: %.0f m along, %.0f m beside\n", p.TimeS, p.DistanceM, p.OffM)
	}
	// Output:
	// 0 s: 223 m along, 6 m beside
	// 10 s: 445 m along, 0 m beside
}
