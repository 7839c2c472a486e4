package grade

import (
	"math"
	"slices"
)

// Share of the ground's sd along a road that remains after quadratics are fitted to windows of one
// correlation length (at least six cells). It is chosen so that the sd is right in the median of
// synthetic roads 8001–8120; eight in ten roads are then within .92-1.15 of their own at 10 m,
// .87-1.15 at 30 m, .83-1.23 at 90 m. For coarse heights it is the share after the cell's blur is
// subtracted; without that it is less.
const (
	localShareFine   = 0.335 // to 3 m cells
	localShareMiddle = 0.355 // 10 m
	localShare30M    = 0.32
	localShareCoarse = 0.366 // 90 m
	localShareBlurry = 0.87  // of these, where the heights have no neighbours across
	localHigh        = 2.2   // limit to which the data may raise the prior; 2.7 flattened real streets
)

// localRatio is the ground's sd by local quadratics over the prior's, and the number of windows;
// NaN where too little ground is unbroken. A vertical curve adds almost nothing to it, so unlike
// residuals of the fit it cannot mistake a road's own waves for noise. A designed road of 100 m
// tangents on a clean 1 m raster had 1.04 points RMSE over 100 m by residuals and 0.04 by this
// (differencing 0.00).
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

// localLow is the limit to which the data may lower the prior. Fine cells show the road itself.
// Coarse ones may be smooth because they were resampled, with errors as long as before, so there
// the prior holds; the bounds are never below the prior's at any cell size.
func localLow(cellM float64) float64 {
	const fine, coarse = 0.15, 0.5
	t := max(0, min(1, math.Log(cellM/3)/math.Log(10.0/3)))
	return fine + t*(coarse-fine)
}
