package grade

import (
	"fmt"
	"math"
	"testing"

	"gradeline/routes"
)

// Drives that drift apart over 1,500 m by more than ordinary ones widen the bounds over 500 m and more, by
// hand: one rises by 4 cm a node more, 3 m over 75 nodes; ordinary ones differ by a variance of
// 2·(2·.3² + 4²·1,500/10,000) = 5.16 m². Steadier ones, and too short a road, change nothing.
func TestDriftWidensLongSpans(t *testing.T) {
	of := func(nodes int, riseM, noise float64) *fusion {
		f := &fusion{p: &routes.Profile{CellM: 30}, nodeM: 20, x: make([]float64, nodes), start: make([]float64, nodes), sdPct: []float64{.1, .1, .05, .02, .01, .005}}
		for k := range 2 {
			d := fusedDrive{heightM: make([]float64, nodes), speedMPS: make([]float64, nodes), noise: noise}
			for i := range d.heightM {
				d.heightM[i] = float64(k) * riseM * float64(i)
			}
			f.drives = append(f.drives, d)
		}
		return f
	}
	for _, c := range []struct {
		nodes              int
		riseM, noise, want float64
	}{
		{300, .04, 1, math.Sqrt(9 / 5.16)}, {300, .04, 1.5, math.Sqrt(9 / 5.16 / 1.5)}, {300, .05, 1, 1.6}, {300, .02, 1, 1},
		{299, .04, 1, 1}, // 224 differences, under three lengths of 75
	} {
		f := of(c.nodes, c.riseM, c.noise)
		within(t, fmt.Sprintf("drift of %+v", c), f.driftFactor(), c.want, 1e-9)
		raster := errorModel(30, sigmaFromCell(30))
		got := f.bound(raster)
		for j, sd := range []float64{2.7, 2.6, 2.15, 1.96, 1.96, 1.96} {
			want := sd * f.sdPct[j]
			if j >= 2 {
				want *= c.want
			}
			within(t, fmt.Sprintf("bound over %g m", spansM[j]), got.SpanPct[j], math.Min(want, raster.SpanPct[j]), 1e-9)
		}
	}
}
