package grade

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// The fit's own factorisation against gonum's LAPACK (Pbtrf, Pbtrs) on random
// systems of the same form. Status: computed, reference library.
func TestBandSolveAgreesWithLapack(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		r := rand.New(rand.NewPCG(seed, 1))
		n := 4 + r.IntN(200)
		f := new(fitter)
		f.resize(n)
		for i := 0; i < n; i++ {
			f.ww[pad+i], f.wr[pad+i] = r.Float64(), r.NormFloat64()
			f.u1[pad+i], f.u2[pad+i], f.u3[pad+i] = 0, 0, 0
			if i < n-1 {
				f.u1[pad+i] = r.ExpFloat64()
			}
			if i < n-2 {
				f.u2[pad+i] = 10 * r.ExpFloat64()
			}
			if i < n-3 {
				f.u3[pad+i] = 100 * r.ExpFloat64()
			}
		}
		const delta = 1e-3
		sym := blas64.SymmetricBand{Uplo: blas.Upper, N: n, K: 3, Stride: 4, Data: make([]float64, 4*n)}
		add := func(at int, stencil []float64, u float64) {
			for i, a := range stencil {
				for k := i; k < len(stencil); k++ {
					sym.Data[(at+i)*4+k-i] += u * a * stencil[k]
				}
			}
		}
		rhs := blas64.General{Rows: n, Cols: 1, Stride: 1, Data: make([]float64, n)}
		for i := 0; i < n; i++ {
			rhs.Data[i] = f.wr[pad+i]
			sym.Data[4*i] += f.ww[pad+i] + delta
			if i < n-1 {
				add(i, []float64{-1, 1}, f.u1[pad+i])
			}
			if i < n-2 {
				add(i, []float64{1, -2, 1}, f.u2[pad+i])
			}
			if i < n-3 {
				add(i, []float64{-1, 3, -3, 1}, f.u3[pad+i])
			}
		}
		chol, ok := lapack64.Pbtrf(sym)
		if !ok {
			t.Fatalf("seed %d: not positive definite", seed)
		}
		lapack64.Pbtrs(chol, rhs)
		if !f.factor(n, delta) {
			t.Fatalf("seed %d: own factorisation failed", seed)
		}
		f.back(n)
		for i := range rhs.Data {
			if math.Abs(rhs.Data[i]-f.z[i]) > 1e-8*(1+math.Abs(rhs.Data[i])) {
				t.Fatalf("seed %d, n %d: x[%d] = %g, LAPACK %g", seed, n, i, f.z[i], rhs.Data[i])
			}
		}
	}
}
