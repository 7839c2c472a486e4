package grade

import (
	"math"
	"slices"
)

// Noise limits: how far the data may move the prior. Narrow on purpose: letting
// the estimate feed back drifts (smoother fit, larger residuals, smoother fit).
const (
	noiseLow, noiseHigh = 0.75, 1.33
	noiseLowFine        = 0.5 // up to 15 m cells, where short waves have judged first
	acfMaxM             = 600.0
	acfStop             = 0.05
)

// noiseFromResiduals gives the robust sd and correlation length of y - x, and
// the unclipped ratio of the sd to the prior.
func noiseFromResiduals(p *problem, x, w []float64, buf []float64) (sigmaM, tauM, ratio float64) {
	prior, priorTau := p.sigmaM, p.tauM
	r := buf[:0]
	for i, v := range p.y {
		if w[i] > 0 {
			r = append(r, math.Abs(v-x[i])/p.rel[i])
		}
	}
	if len(r) < 20 {
		return prior, priorTau, 1
	}
	slices.Sort(r)
	mad := r[len(r)/2]
	cut, _ := slices.BinarySearch(r, 4*1.4826*mad)
	s := 1.4826 * r[max(0, cut-1)/2]
	ratio = s / prior
	low := noiseLow
	if p.cellM <= shortMaxCellM {
		low = noiseLowFine
	}
	sigmaM = math.Max(low, math.Min(noiseHigh, ratio)) * prior
	// Integral of the autocorrelation of the residuals clipped at 3 s.
	lim := 3 * s
	clip := func(i int) float64 {
		return math.Max(-lim, math.Min(lim, (p.y[i]-x[i])/p.rel[i]))
	}
	var c0 float64
	integral := 1.0
	for lag := 0; float64(lag)*p.stepM <= acfMaxM && lag < p.n/3; lag++ {
		var c float64
		m := 0
		for i := 0; i+lag < p.n; i++ {
			if w[i] > 0 && w[i+lag] > 0 {
				c += clip(i) * clip(i+lag)
				m++
			}
		}
		if m < 10 {
			break
		}
		c /= float64(m)
		if lag == 0 {
			c0 = c
			if c0 <= 0 {
				return sigmaM, priorTau, ratio
			}
			continue
		}
		if c/c0 < acfStop {
			break
		}
		integral += 2 * c / c0
	}
	tauM = math.Max(noiseLow, math.Min(noiseHigh, integral*p.stepM/priorTau)) * priorTau
	return sigmaM, tauM, ratio
}

// The noise's short waves: median third difference over lag max(10 m, 2 cells),
// which grades and vertical curves add nothing to except at curve ends. Above
// 15 m cells the lag is as long as the curves, and the prior must do.
const (
	shortLagM     = 10.0
	shortMaxCellM = 15.0
	// On synthetic roads of the prior noise the third differences' sd is 1.56
	// times it at 1 m cells and 1.74 times at 10 m, within 8 % on 24 roads.
	shortOverSigma = 1.65
	shortMost      = 2.5
	// Coarser cells hide errors that have no short waves (averaging across the
	// road), so they may bring the noise down less: to .15 at 1 m, .5 at 10 m.
	shortLeast, shortLeastPow = 0.15, 0.52
)

// scaleFromShortWaves is the noise over its prior, judged before any fit: that of
// survey-grade terrain under a road of short curves must not be taken from the
// residuals of a fit that the prior made too smooth.
func scaleFromShortWaves(p *problem, buf []float64) float64 {
	if p.cellM > shortMaxCellM {
		return 1
	}
	r := shortWaves(p, buf) / (shortOverSigma * sigmaFromCell(p.cellM))
	if math.IsNaN(r) {
		return 1
	}
	return math.Max(math.Min(1, shortLeast*math.Pow(p.cellM, shortLeastPow)), math.Min(shortMost, r))
}

// shortWaves returns the robust sd of third differences of the heights; NaN
// where there are too few.
func shortWaves(p *problem, buf []float64) float64 {
	m := max(1, int(math.Round(math.Max(shortLagM, 2*p.cellM)/p.stepM)))
	d := buf[:0]
	for i := 0; i+3*m < p.n; i++ {
		if p.w[i] > 0 && p.w[i+m] > 0 && p.w[i+2*m] > 0 && p.w[i+3*m] > 0 {
			d = append(d, math.Abs(p.y[i+3*m]-p.y[i]+3*(p.y[i+m]-p.y[i+2*m])))
		}
	}
	if len(d) < 20 {
		return math.NaN()
	}
	slices.Sort(d)
	return 1.4826 * d[len(d)/2]
}
