package grade

import (
	"math"
	"testing"
)

// The bounds hold on the part of a route that lies on coarser cells than most of it.
func TestBoundsHoldOnACoarserPart(t *testing.T) {
	const stepM, cutM = 5.0, 8000.0
	means, meansHeld, heightsHeld := 0.0, 0.0, 0.0
	for seed := uint64(1); seed <= 20; seed++ {
		truth := heights(stepM, leg{4000, -4, 300}, leg{4000, -7, 300}, leg{4000, -5, 0})
		z, coarse := spoil(truth, stepM, 1, 1, seed), spoil(truth, stepM, 30, 1, seed+100)
		copy(z[int(cutM/stepM):], coarse[int(cutM/stepM):])
		g := lineGround(z, stepM, 1)
		for i := int(cutM / stepM); i < len(z); i++ {
			g.CellM[i] = 30
		}
		p := mustRecover(t, g, Options{})
		if fine := p.BoundOver(1000, 2000); len(p.Coarser) != 1 || fine.ElevationM != p.Bound.ElevationM || p.Coarser[0].FromM != p.StationM(int(cutM/stepM)) {
			t.Fatalf("parts %+v", p.Coarser)
		}
		if p.CellM != 1 {
			t.Fatalf("median cell %g m", p.CellM)
		}
		for a := int(cutM/stepM) + 20; a+100 < len(z); a += 20 {
			means++
			fromM, toM := p.StationM(a), p.StationM(a+100)
			errPct := math.Abs(p.ElevationM[a]-p.ElevationM[a+100]-truth[a]+truth[a+100]) / (toM - fromM) * 100
			if errPct <= p.MeanErrPct(fromM, toM) {
				meansHeld++
			}
			if math.Abs(p.ElevationM[a]-truth[a]) <= p.BoundOver(fromM, toM).ElevationM {
				heightsHeld++
			}
		}
	}
	if p := mustRecover(t, lineGround(heights(stepM, leg{6000, -5, 0}), stepM, 1), Options{}); len(p.Coarser) != 0 {
		t.Errorf("coarser parts on one cell size: %v", p.Coarser)
	}
	t.Logf("500 m means %.3f, heights %.3f", meansHeld/means, heightsHeld/means)
	if meansHeld < 0.95*means || heightsHeld < 0.9*means {
		t.Errorf("of means the bound holds in %.3f, of heights in %.3f", meansHeld/means, heightsHeld/means)
	}
}

// 200 m on coarser cells, or cells that differ as one raster's do, widen nothing.
func TestAFewCoarserCellsWidenNothing(t *testing.T) {
	const stepM = 5.0
	z := heights(stepM, leg{6000, -5, 0})
	plain := mustRecover(t, lineGround(z, stepM, 10), Options{}).BoundOver(0, 6000).ElevationM
	for name, cellM := range map[string]func(i int) float32{
		"200 m": func(i int) float32 {
			if i >= 500 && i < 540 {
				return 30
			}
			return 10
		},
		"one raster": func(i int) float32 { return 10 + float32(i)/float32(len(z)) },
	} {
		g := lineGround(z, stepM, 10)
		for i := range g.CellM {
			g.CellM[i] = cellM(i)
		}
		if got := mustRecover(t, g, Options{}).BoundOver(0, 6000).ElevationM; math.Abs(got/plain-1) > 0.1 {
			t.Errorf("%s: bound of a height %.3f m, %.3f m without", name, got, plain)
		}
	}
}
