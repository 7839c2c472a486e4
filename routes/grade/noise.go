package grade

import (
	"math"
	"slices"
)

// Noise limits: how far the data may move the prior. Narrow on purpose: letting
// the estimate feed back drifts (smoother fit, larger residuals, smoother fit).
const (
	noiseLow, noiseHigh = 0.75, 1.33
	acfMaxM             = 600.0
	acfStop             = 0.05
)

// noiseFromResiduals stands in where no stretch is long enough for localRatio, and
// its ratio is what reliability looks at. Measured on the tuning roads instead of
// localRatio: RMSE 1/10/30/90 m .151/.428/.816/1.043 against .138/.414/.748/1.041,
// the other constants having been chosen with localRatio in place.
//
// It gives the robust sd and correlation length of y - x, and
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
	sigmaM = math.Max(noiseLow, math.Min(noiseHigh, ratio)) * prior
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
