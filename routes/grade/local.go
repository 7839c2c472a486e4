package grade

import (
	"math"
	"slices"
)

// Share of the ground's sd along a road that is left over by quadratics fitted
// to windows of one correlation length (six cells at least), chosen so that the
// sd comes out right in the median of synthetic roads 8001–8120; eight in ten roads are
// then within .92-1.15 of their own at 10 m, .87-1.15 at 30 m, .83-1.23 at 90 m.
// Of coarse heights with the cell's blur taken off; as they are it is less.
const (
	localShareFine   = 0.335 // to 3 m cells
	localShareMiddle = 0.355 // 10 m
	localShare30M    = 0.32
	localShareCoarse = 0.366 // 90 m
	localShareBlurry = 0.87  // of these, where no neighbours came with the heights
	localHigh        = 2.2   // the most that the data may raise the prior; 2.7 flattened real streets
)

// localRatio is the ground's sd by local quadratics over the prior's, from so many
// windows, NaN where too little ground is unbroken. A vertical curve adds next to
// nothing to it, so unlike residuals of the fit it cannot take a road's own waves
// for noise: a designed road of 100 m tangents on a clean 1 m raster came out with
// 1.04 points RMSE over 100 m by residuals and 0.04 by this (differencing 0.00).
func localRatio(p *problem, buf []float64) (ratio float64, windows int) {
	m := max(3, int(math.Round(max(tauFromCell(p.cellM), 6*p.cellM)/p.stepM/2)))
	k := 2*m + 1
	var s2, s4 float64
	for j := -m; j <= m; j++ {
		x := float64(j * j)
		s2 += x
		s4 += x * x
	}
	mean2 := s2 / float64(k)
	den2 := s4 - s2*mean2
	r := buf[:0]
	for i := m; i+m < p.n; i += m {
		if v, ok := localResidual(p, i, m, s2, mean2, den2); ok {
			r = append(r, v)
		}
	}
	if len(r) < 5 {
		return math.NaN(), len(r)
	}
	slices.Sort(r)
	share := localShare(p.cellM)
	if p.cellM > lateralMaxCellM && !p.unblurred {
		share *= localShareBlurry
	}
	return r[len(r)/2] / share / sigmaFromCell(p.cellM), len(r)
}

// localResidual is the rms residual of the quadratic about station i.
func localResidual(p *problem, i, m int, s2, mean2, den2 float64) (rms float64, ok bool) {
	k := float64(2*m + 1)
	y0 := p.y[i]
	var a, b, c, yy float64
	for j := -m; j <= m; j++ {
		if p.w[i+j] == 0 {
			return 0, false
		}
		x, y := float64(j), p.y[i+j]-y0
		a += y
		b += x * y
		c += (x*x - mean2) * y
		yy += y * y
	}
	v := yy - a*a/k - b*b/s2 - c*c/den2
	return math.Sqrt(max(0, v)/(k-3)) / p.rel[i], true
}

// localShare is log-linear in the cell size between the measured ones.
func localShare(cellM float64) float64 {
	between := func(fromM, toM, from, to float64) float64 {
		t := min(1, math.Log(cellM/fromM)/math.Log(toM/fromM))
		return from + t*(to-from)
	}
	switch {
	case cellM <= 3:
		return localShareFine
	case cellM <= 10:
		return localShareMiddle
	case cellM <= 30:
		return between(10, 30, localShareMiddle, localShare30M)
	}
	return between(30, 90, localShare30M, localShareCoarse)
}

// localLow is the least that the data may lower the prior to. Fine cells show
// the road itself. Coarse ones may be smooth because they were resampled, with
// errors as long as ever, so there the prior holds; the bounds never go below
// the prior's at any cell size.
func localLow(cellM float64) float64 {
	const fine, coarse = 0.15, 0.5
	t := max(0, min(1, math.Log(cellM/3)/math.Log(10.0/3)))
	return fine + t*(coarse-fine)
}
