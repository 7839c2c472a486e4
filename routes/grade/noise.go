package grade

import (
	"math"
	"slices"
)

// Noise limits: how far the data may move the prior. They are narrow because feedback of the
// estimate drifts (smoother fit, larger residuals, smoother fit).
const (
	noiseLow, noiseHigh = 0.75, 1.33
	acfMaxM             = 600.0
	acfStop             = 0.05
	residualsLeast      = 20 // fewer are not enough
)

// noiseFromResiduals returns the robust sd of y - x and its ratio to the prior, unclipped. The
// ratio is used for reliability; the sd is used where no stretch is long enough for localRatio. On
// the tuning roads in place of localRatio: RMSE 1/10/30/90 m .151/.428/.816/1.043 against
// .138/.414/.748/1.041; the other constants had been chosen with localRatio.
func noiseFromResiduals(p *problem, x, w []float64, buf []float64) (sigmaM, ratio float64) {
	prior := p.sigmaM
	r := buf[:0]
	for i, v := range p.y {
		if w[i] > 0 {
			r = append(r, math.Abs(v-x[i])/p.rel[i])
		}
	}
	if len(r) < residualsLeast {
		return prior, 1
	}
	slices.Sort(r)
	mad := r[len(r)/2]
	cut, _ := slices.BinarySearch(r, 4*1.4826*mad)
	s := 1.4826 * r[max(0, cut-1)/2]
	ratio = s / prior
	return max(noiseLow, min(noiseHigh, ratio)) * prior, ratio
}

// tauFromResiduals returns the correlation length of y - x: the integral of the autocorrelation of
// the residuals, clipped at three times their sd.
func tauFromResiduals(p *problem, x, w []float64, sdM float64) float64 {
	priorTau := p.tauM
	if samples(w) < residualsLeast {
		return priorTau
	}
	lim := 3 * sdM
	clip := func(i int) float64 {
		return max(-lim, min(lim, (p.y[i]-x[i])/p.rel[i]))
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
				return priorTau
			}
			continue
		}
		if c/c0 < acfStop {
			break
		}
		integral += 2 * c / c0
	}
	return max(noiseLow, min(noiseHigh, integral*p.stepM/priorTau)) * priorTau
}

// samples is the number of stations with a weight.
func samples(w []float64) int {
	m := 0
	for _, v := range w {
		if v > 0 {
			m++
		}
	}
	return m
}
