package plot

import (
	"math"
	"testing"
)

// Level ground throws back sin 45°; a 45° slope that faces the light, all of
// it; one that faces away, none. (Computed from the definition.)
func TestHillshade(t *testing.T) {
	cell := 1.0 / 111320 // a metre near the equator
	for _, c := range []struct{ dzdx, dzdy, want float64 }{
		{0, 0, math.Sqrt2 / 2}, {math.Sqrt2 / 2, -math.Sqrt2 / 2, 1}, {-math.Sqrt2 / 2, math.Sqrt2 / 2, 0},
	} {
		h := &Hillshade{WestDeg: 0, EastDeg: 3 * cell, SouthDeg: 0, NorthDeg: 3 * cell, Cols: 3, Rows: 3}
		for row := range 3 {
			for col := range 3 {
				h.ElevationM = append(h.ElevationM, c.dzdx*float64(col)-c.dzdy*float64(row))
			}
		}
		if got := h.shade(1, 1); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("rise %g east, %g north: %g, want %g", c.dzdx, c.dzdy, got, c.want)
		}
	}
}
