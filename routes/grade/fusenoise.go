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

	// A drift of many metres in 10 km shows over longer stretches. Drives that differ less there are not
	// credited: where 10 m cells count as much as they do, bounds would hold in 85 to 93 of 100.
	driftLagM      = 1500.0
	driftLeastLags = 3 // of road that two drives share
	driftMost      = 1.6
)

// driftFactor is by how much more the drives differ over a kilometre and more than their noise says, as
// a standard deviation; at least 1.
func (f *fusion) driftFactor() float64 {
	ratio, noise, pairs := 0.0, 0.0, 0.0
	for k := range f.drives {
		for j := range k {
			r := f.differenceRatio(&f.drives[k], &f.drives[j], driftLagM, driftLeastLags*int(driftLagM/f.nodeM))
			if math.IsNaN(r) {
				continue
			}
			ratio, noise, pairs = ratio+r, noise+(f.drives[k].noise+f.drives[j].noise)/2, pairs+1
		}
	}
	if pairs == 0 {
		return 1
	}
	return max(1, min(driftMost, math.Sqrt(ratio/noise)))
}

// learnNoise sets each drive's variance from its differences to the others. It is the lower median
// of their ratios to the difference of two ordinary units, so that one bad drive does not spoil the
// good ones.
func (f *fusion) learnNoise() {
	for k := range f.drives {
		var ratios []float64
		for j := range f.drives {
			if r := f.differenceRatio(&f.drives[k], &f.drives[j], noiseLagM, noiseLeastNodes); j != k && !math.IsNaN(r) {
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

// differenceRatio is the mean square change of two drives' difference over a length, divided by
// that of two ordinary units; NaN where they share too little road.
func (f *fusion) differenceRatio(a, b *fusedDrive, lagM float64, leastNodes int) float64 {
	lag := max(1, int(math.Round(lagM/f.nodeM)))
	sum, n := 0.0, 0
	for i := 0; i+lag < len(f.x); i++ {
		d := f.offM(a, i+lag) - f.offM(b, i+lag) - f.offM(a, i) + f.offM(b, i)
		if !math.IsNaN(d) {
			sum, n = sum+d*d, n+1
		}
	}
	if n < leastNodes {
		return math.NaN()
	}
	one := 2*driveWhiteM*driveWhiteM + driveDriftM*driveDriftM*float64(lag)*f.nodeM/10e3
	return sum / float64(n) / (2 * one)
}
