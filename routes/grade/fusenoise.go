package grade

import (
	"math"
	"slices"
)

// The difference of two drives over one road does not contain the road. Its changes over some
// hundred metres show how noisy the drives are.
const (
	noiseLagM       = 300.0
	noiseLeastNodes = 40
	noiseMost       = 16.0 // times the variance of an ordinary unit
	noiseLeast      = 1.0  // lower bound: heights that a recorder has smoothed differ little but are as wrong
)

// learnNoise sets each drive's variance from its differences to the others. It is the lower median
// of their ratios to the difference of two ordinary units, so that one bad drive does not spoil the
// good ones.
func (f *fusion) learnNoise() {
	for k := range f.drives {
		var ratios []float64
		for j := range f.drives {
			if r := f.differenceRatio(&f.drives[k], &f.drives[j]); j != k && !math.IsNaN(r) {
				ratios = append(ratios, r)
			}
		}
		if len(ratios) == 0 {
			continue
		}
		slices.Sort(ratios)
		f.drives[k].noise = max(noiseLeast, min(noiseMost, ratios[(len(ratios)-1)/2]))
	}
}

// differenceRatio is the mean square change of two drives' difference over noiseLagM, divided by
// that of two ordinary units; NaN where they share too little road.
func (f *fusion) differenceRatio(a, b *fusedDrive) float64 {
	lag := max(1, int(math.Round(noiseLagM/f.nodeM)))
	sum, n := 0.0, 0
	for i := 0; i+lag < len(f.x); i++ {
		d := f.offM(a, i+lag) - f.offM(b, i+lag) - f.offM(a, i) + f.offM(b, i)
		if !math.IsNaN(d) {
			sum, n = sum+d*d, n+1
		}
	}
	if n < noiseLeastNodes {
		return math.NaN()
	}
	one := 2*driveWhiteM*driveWhiteM + driveDriftM*driveDriftM*float64(lag)*f.nodeM/10e3
	return sum / float64(n) / (2 * one)
}
