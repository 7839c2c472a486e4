package grade

import (
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
	"gonum.org/v1/gonum/mat"
)

// step solves the equations and returns the largest move of a height; false where they cannot be
// solved. The globals are either solved for, by elimination of the nodes, or kept.
func (f *fusion) step(withGlobals bool) (movedM float64, ok bool) {
	s := &f.sys
	t, ok := lapack64.Pbtrf(blas64.SymmetricBand{Uplo: blas.Upper, N: s.n, K: s.band, Stride: s.band + 1, Data: s.a})
	if !ok {
		return 0, false
	}
	s.factor = t
	if !withGlobals {
		return f.stepNodes(), true
	}
	globals := len(s.cornerB)
	x := append([]float64(nil), s.b...)
	forwardBand(t, s.border, globals)
	forwardBand(t, x, 1)
	schur, right := mat.NewSymDense(globals, nil), mat.NewVecDense(globals, slices.Clone(s.cornerB))
	schur.CopySym(s.corner)
	borderM := blas64.General{Rows: s.n, Cols: globals, Stride: globals, Data: s.border}
	blas64.Syrk(blas.Trans, -1, borderM, 1, schur.RawSymmetric())
	blas64.Gemv(blas.Trans, -1, borderM, blas64.Vector{N: s.n, Inc: 1, Data: x}, 1, right.RawVector())
	if !s.schur.Factorize(schur) {
		return 0, false
	}
	var g mat.VecDense
	if err := s.schur.SolveVecTo(&g, right); err != nil {
		return 0, false
	}
	blas64.Gemv(blas.NoTrans, -1, borderM, g.RawVector(), 1, blas64.Vector{N: s.n, Inc: 1, Data: x})
	backwardBand(t, x, 1)
	for k := range f.drives {
		copy(f.drives[k].global[:], g.RawVector().Data[3*k:3*k+3])
	}
	return f.setNodes(x), true
}

// stepNodes solves for the nodes with fixed globals.
func (f *fusion) stepNodes() (movedM float64) {
	s, globals := &f.sys, len(f.sys.cornerB)
	x := append([]float64(nil), s.b...)
	for r := range x {
		for k := range f.drives {
			row := s.border[r*globals+3*k : r*globals+3*k+3]
			x[r] -= row[0]*f.drives[k].global[0] + row[1]*f.drives[k].global[1] + row[2]*f.drives[k].global[2]
		}
	}
	forwardBand(s.factor, x, 1)
	backwardBand(s.factor, x, 1)
	return f.setNodes(x)
}
