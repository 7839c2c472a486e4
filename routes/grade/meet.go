package grade

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"

	"gradeline/routes"
)

// MeetingHeight is the height of another road's grade line at a station where the two roads meet.
type MeetingHeight struct{ StationM, ElevationM float64 }

// meetingSdM is how closely a grade line is led through the height of another road. Nodes may be closer
// to each other than two roads are drawn exactly, so none is met to the millimetre (our own choice).
const meetingSdM = 0.1

// Meet leads a grade line through the heights of other roads at the nodes that it shares with them,
// with bounds that stay as they are. The correction is what the other road's height says of the
// rest of this one: least squares with the raster's correlated error and the shape of built roads, as
// for recorded drives. It dies away where the ground says otherwise.
// p is not changed.
func Meet(p *routes.Profile, at []MeetingHeight) *routes.Profile {
	f := newFusion(p)
	n := len(f.x)
	if n < 4 || len(at) == 0 {
		return p
	}
	s := &f.sys
	s.perNode, s.n, s.band = 2, 2*n, 6
	s.a, s.b = make([]float64, s.n*(s.band+1)), make([]float64, s.n)
	f.rasterTerms()
	f.shapeTerms()
	for i := range s.n {
		s.a[i*(s.band+1)] += 1e-6
	}
	clear(s.b) // the line itself is the answer without the other roads; only the change is solved for
	for _, m := range at {
		x := (m.StationM - f.stationM(0)) / f.nodeM
		k := max(0, min(n-2, int(math.Floor(x))))
		t := max(0, min(1, x-float64(k)))
		if z := p.ElevationAtM(m.StationM); !math.IsNaN(z) {
			s.square(1/(meetingSdM*meetingSdM), m.ElevationM-z, []int{2 * k, 2 * (k + 1)}, []float64{1 - t, t})
		}
	}
	u, ok := lapack64.Pbtrf(blas64.SymmetricBand{Uplo: blas.Upper, N: s.n, K: s.band, Stride: s.band + 1, Data: s.a})
	if !ok {
		return p
	}
	forwardBand(u, s.b, 1)
	backwardBand(u, s.b, 1)
	for i := range f.x {
		f.x[i] += s.b[2*i]
	}
	out := *p
	out.ElevationM = f.moved()
	return &out
}
