package grade

import (
	"math"
	"testing"
)

// The roughness that passes for a road's is as measured at three cell sizes, and in
// between linear in the logarithm of the cell.
func TestRoughest(t *testing.T) {
	for cellM, want := range map[float64]float64{5: 2.2, 10: 2.2, math.Sqrt(300): 2.45, 30: 2.7, math.Sqrt(2700): 2.25, 90: 1.8, 200: 1.8} {
		if got := roughest(cellM); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g m cells: %v, want %v", cellM, got, want)
		}
	}
}

// A curve at a line's end is at most a third of the line: 300 m of 60 intervals of 15 m.
func TestALineEndsCurveIsAtMostAThirdOfTheLine(t *testing.T) {
	for _, c := range []struct{ stations, curves int }{{59, 0}, {61, 2}, {119, 2}, {121, 4}} {
		r, _ := endOf(2)
		r.p.n = c.stations
		last := c.stations - 1
		if got := len(r.lineEnd(func(k int) int { return last - k })); got != c.curves {
			t.Errorf("%d stations: %d curves, want %d", c.stations, got, c.curves)
		}
	}
}
