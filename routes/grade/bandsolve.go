package grade

import "gonum.org/v1/gonum/blas/blas64"

// solveBand solves UᵀU·x = b for several right-hand sides at once, in place; u is the upper factor
// from Pbtrf, x has a row for each unknown with cols values. Pbtrs takes one column after the other
// with a stride, which is four times slower for the columns of many drives.
func solveBand(u blas64.TriangularBand, x []float64, cols int) {
	for i := range u.N {
		row := u.Data[i*u.Stride : i*u.Stride+1+min(u.K, u.N-1-i)]
		xi := x[i*cols : (i+1)*cols]
		for c := range xi {
			xi[c] /= row[0]
		}
		for j, v := range row[1:] {
			if v == 0 {
				continue
			}
			to := x[(i+1+j)*cols : (i+2+j)*cols]
			for c, w := range xi {
				to[c] -= v * w
			}
		}
	}
	for i := u.N - 1; i >= 0; i-- {
		row := u.Data[i*u.Stride : i*u.Stride+1+min(u.K, u.N-1-i)]
		xi := x[i*cols : (i+1)*cols]
		for j, v := range row[1:] {
			if v == 0 {
				continue
			}
			from := x[(i+1+j)*cols : (i+2+j)*cols]
			for c, w := range from {
				xi[c] -= v * w
			}
		}
		for c := range xi {
			xi[c] /= row[0]
		}
	}
}
