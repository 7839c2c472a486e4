package grade

import (
	"math"
	"math/rand/v2"
	"testing"

	"gradeline/routes"
)

// The limits by which a drive is left out, within 5 % of the figures they are stated
// with: a weaker one lets a bad barometer in.
func TestLimitsOfASoundBarometer(t *testing.T) {
	for _, c := range []struct {
		name  string
		limit float64
		drive func(float64) fusedDrive
	}{
		{"misfit", .75, func(x float64) fusedDrive { return fusedDrive{misfitM: x} }},
		{"scale", .12, func(x float64) fusedDrive { return fusedDrive{global: [3]float64{-x}} }},
		{"lag", 8, func(x float64) fusedDrive { return fusedDrive{global: [3]float64{2: x}} }},
	} {
		sound, bad := c.drive(.97*c.limit), c.drive(1.03*c.limit)
		if sound.badness() > 1 || bad.badness() <= 1 {
			t.Errorf("%s: %.2f just under the limit, %.2f just over", c.name, sound.badness(), bad.badness())
		}
	}
}

// The bounds with drives are so many standard deviations, as the table of DRIVES.md was
// measured with: over long spans those of the normal distribution, 1.96, and up to 2.2 at 10 m cells; never wider than the raster's.
func TestBoundsOfAFusedGradeLine(t *testing.T) {
	for _, c := range []struct{ cellM, over100M, over2KM, over4KM float64 }{{1, 2.95, 2.05, 2.2}, {10, 2.95, 2.05, 2.2}, {17.32, 2.825, 2.005, 2.08}, {30, 2.7, 1.96, 1.96}, {90, 3.35, 1.96, 1.96}, {200, 3.35, 1.96, 1.96}} {
		f := &fusion{p: &routes.Profile{CellM: c.cellM}, nodeM: 20, sdM: .01, sdPct: []float64{.001, .001, .001, .001, .0001, 5}}
		raster := errorModel(c.cellM, sigmaFromCell(c.cellM))
		for i := range 300 { // 2 km at 7 % in a level road
			f.x = append(f.x, 1.4*math.Max(0, math.Min(100, float64(i-50))))
		}
		got := f.bound(raster)
		f.sdScale = .0005
		steepPct, most := []float64{7, 7, 7, 7, 7, 3.5}, f.bound(raster)
		for j := range steepPct {
			want := math.Min(raster.SpanPct[j], math.Hypot(got.SpanPct[j], 2.2*.0005*steepPct[j]))
			if math.Abs(most.SpanPct[j]/want-1) > 1e-3 {
				t.Errorf("%g m cells, %g m with a scale in doubt: ±%.5f, want %.5f", c.cellM, spansM[j], most.SpanPct[j], want)
			}
		}
		for j, cover := range []float64{c.over100M, 2.6, 2.15, 1.96, c.over2KM, c.over4KM} {
			if want := math.Min(cover*f.sdPct[j], raster.SpanPct[j]); math.Abs(got.SpanPct[j]/want-1) > 1e-3 {
				t.Errorf("%g m cells, %g m: ±%.5f, want %.5f", c.cellM, spansM[j], got.SpanPct[j], want)
			}
		}
		if want := 2.5*.01 + .05; math.Abs(got.ElevationM/want-1) > 1e-9 {
			t.Errorf("%g m cells: heights ±%.3f m, want %.3f", c.cellM, got.ElevationM, want)
		}
		if math.Abs(got.EndShare-1) > .02 || got.EndM < 2*f.nodeM {
			t.Errorf("%g m cells: %g of the mean's bound, ends ±%.0f m", c.cellM, got.EndShare, got.EndM)
		}
	}
}

// Where the bounds with drives can't be worked out, those of the raster stay.
func TestBoundsThatCannotBeWorkedOut(t *testing.T) {
	f := &fusion{p: &routes.Profile{CellM: 30}, nodeM: 20, sdPct: make([]float64, len(spansM))}
	f.unbounded()
	raster := errorModel(30, sigmaFromCell(30))
	got := f.bound(raster)
	for j := range spansM {
		if got.SpanPct[j] != raster.SpanPct[j] {
			t.Errorf("%g m: ±%g, the raster's is %g", spansM[j], got.SpanPct[j], raster.SpanPct[j])
		}
	}
	if got.ElevationM != raster.ElevationM || got.EndM != math.Max(40, raster.EndM) {
		t.Errorf("heights ±%g m, ends ±%g m", got.ElevationM, got.EndM)
	}
}

// Two drives that differ as ordinary units do count as such, noisier ones as noisier in
// proportion, and quieter ones never as better: a recorder that smooths differs little
// and is wrong all the same.
func TestNoiseLearnedFromDifferences(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	const n = 20000
	drive := func(times float64) fusedDrive {
		d := fusedDrive{heightM: make([]float64, n), speedMPS: make([]float64, n), noise: 1}
		drift := 0.0
		for i := range d.heightM {
			drift += times * 4 * math.Sqrt(20/10e3) * rng.NormFloat64()
			d.heightM[i] = drift + times*.3*rng.NormFloat64()
		}
		return d
	}
	for _, c := range []struct{ times, want float64 }{{1, 1}, {2, 4}, {.3, 1}, {9, 16}} {
		f := &fusion{nodeM: 20, x: make([]float64, n), start: make([]float64, n), drives: []fusedDrive{drive(c.times), drive(c.times)}}
		f.learnNoise()
		if got := f.drives[0].noise; math.Abs(got/c.want-1) > .045 {
			t.Errorf("units %g times as noisy: variance %.2f times, want %.2f", c.times, got, c.want)
		}
	}
}
