package grade

// band is a symmetric positive definite system of seven diagonals, factored as
// L·D·Lᵀ in place. Slot i of lower k holds the entry (i, i-k). It does in one
// pass what lapack64.Pbtrf and Pbtrs do in two; band_test.go compares them.
type band struct {
	l1, l2, l3 []float64
	inv        []float64 // 1/D
	z          []float64
}

func (b *band) resize(n int) {
	if cap(b.inv) < n+3 {
		m := n + 3 + n/4
		b.l1, b.l2, b.l3 = make([]float64, m), make([]float64, m), make([]float64, m)
		b.inv, b.z = make([]float64, m), make([]float64, m)
	}
	n += 3
	b.l1, b.l2, b.l3, b.inv, b.z = b.l1[:n], b.l2[:n], b.l3[:n], b.inv[:n], b.z[:n]
	for i := n - 3; i < n; i++ {
		b.l1[i], b.l2[i], b.l3[i], b.z[i] = 0, 0, 0, 0
	}
}

// back does the backward substitution: it turns z into the solution.
func (b *band) back(n int) {
	z, l1, l2, l3, inv := b.z[:n+3], b.l1[:n+3], b.l2[:n+3], b.l3[:n+3], b.inv[:n+3]
	var z1, z2, z3 float64
	for i := n - 1; i >= 0; i-- {
		v := z[i]*inv[i] - l2[i+2]*z2 - l3[i+3]*z3 - l1[i+1]*z1
		z[i] = v
		z3, z2, z1 = z2, z1, v
	}
}
