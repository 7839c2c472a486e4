package grade

import (
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
)

// forwardBand solves Uᵀ·y = x for several right-hand sides at once, in place; u is the upper factor
// from Pbtrf, x has a row for each unknown with cols values. LAPACK's Pbtrs takes one column after
// the other with a stride, which is four times slower for the columns of many drives.
func forwardBand(u blas64.TriangularBand, x []float64, cols int) {
	for i := range u.N {
		row := u.Data[i*u.Stride : i*u.Stride+1+min(u.K, u.N-1-i)]
		if cols == 1 {
			x[i] /= row[0]
			floats.AddScaled(x[i+1:i+len(row)], -x[i], row[1:])
			continue
		}
		xi := x[i*cols : (i+1)*cols]
		floats.Scale(1/row[0], xi)
		for j, v := range row[1:] {
			if v != 0 {
				floats.AddScaled(x[(i+1+j)*cols:(i+2+j)*cols], -v, xi)
			}
		}
	}
}

// backwardBand solves U·y = x likewise.
func backwardBand(u blas64.TriangularBand, x []float64, cols int) {
	for i := u.N - 1; i >= 0; i-- {
		row := u.Data[i*u.Stride : i*u.Stride+1+min(u.K, u.N-1-i)]
		if cols == 1 {
			x[i] = (x[i] - floats.Dot(row[1:], x[i+1:i+len(row)])) / row[0]
			continue
		}
		xi := x[i*cols : (i+1)*cols]
		for j, v := range row[1:] {
			if v != 0 {
				floats.AddScaled(xi, -v, x[(i+1+j)*cols:(i+2+j)*cols])
			}
		}
		floats.Scale(1/row[0], xi)
	}
}
