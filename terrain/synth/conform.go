package synth

import "math"

// conform bends the relief so that natural ground along the roads is at the road's height plus the
// depth of cuts and fills, and at a structure's valley or ridge. It adds the difference to the
// lattice by normalised convolution at four scales. The rest after the fourth scale is kept with
// the road's points and fades out next to them (the fifth).
func (g *ground) conform(roads []*alignment, cutFill field) {
	idx := g.index
	target := make([]float64, len(idx.x))
	k := 0
	for r, a := range roads {
		for i, s := range a.s {
			dep, on := a.departure(s)
			idx.free[k] = on
			target[k] = a.z[i] + dep + a.terrain.cutFillM*cutFill.along(s+float64(r)*7919)
			k++
		}
	}
	for _, scaleM := range []float64{1200, 400, 133, 45} {
		g.bend(target, scaleM)
	}
	for i := range idx.x {
		idx.residual[i] = target[i] - g.natural(idx.x[i], idx.y[i], g.micro)
	}
}

// bend adds one level's correction to the lattice.
func (g *ground) bend(target []float64, scaleM float64) {
	num := make([]float64, len(g.base))
	den := make([]float64, len(g.base))
	idx := g.index
	for i := range target {
		r := target[i] - g.natural(idx.x[i], idx.y[i], nil)
		fx, fy := (idx.x[i]-g.x0)/latticeM, (idx.y[i]-g.y0)/latticeM
		c := int(clamp(math.Floor(fx), 0, float64(g.cols-2)))
		w := int(clamp(math.Floor(fy), 0, float64(g.rows-2)))
		u, v := fx-float64(c), fy-float64(w)
		for _, n := range []struct {
			at int
			w  float64
		}{{w*g.cols + c, (1 - u) * (1 - v)}, {w*g.cols + c + 1, u * (1 - v)}, {(w+1)*g.cols + c, (1 - u) * v}, {(w+1)*g.cols + c + 1, u * v}} {
			num[n.at] += n.w * r
			den[n.at] += n.w
		}
	}
	half := int(math.Max(1, math.Round(scaleM/latticeM)))
	tmp := make([]float64, len(g.base))
	for pass := 0; pass < 3; pass++ {
		boxBlur(num, tmp, g.cols, g.rows, half)
		boxBlur(den, tmp, g.cols, g.rows, half)
	}
	// weight on a straight road, so that the correction fades where less is near
	onRoad := 0.0
	for i := range target {
		onRoad += bilinear64(den, g.cols, g.rows, (idx.x[i]-g.x0)/latticeM, (idx.y[i]-g.y0)/latticeM)
	}
	eps := 0.04 * onRoad / float64(len(target))
	for i := range g.base {
		g.base[i] += float32(num[i] / (den[i] + eps))
	}
}

func bilinear64(v []float64, cols, rows int, x, y float64) float64 {
	i := int(clamp(math.Floor(x), 0, float64(cols-2)))
	j := int(clamp(math.Floor(y), 0, float64(rows-2)))
	u, w := x-float64(i), y-float64(j)
	k := j*cols + i
	return (1-w)*((1-u)*v[k]+u*v[k+1]) + w*((1-u)*v[k+cols]+u*v[k+cols+1])
}

// boxBlur averages over ±half nodes along rows and then columns; outside is 0.
func boxBlur(v, tmp []float64, cols, rows, half int) {
	w := 1 / float64(2*half+1)
	for j := 0; j < rows; j++ {
		row, out := v[j*cols:(j+1)*cols], tmp[j*cols:(j+1)*cols]
		sum := 0.0
		for i := 0; i < min(half, cols); i++ {
			sum += row[i]
		}
		for i := range row {
			if i+half < cols {
				sum += row[i+half]
			}
			if i-half-1 >= 0 {
				sum -= row[i-half-1]
			}
			out[i] = sum * w
		}
	}
	sums := make([]float64, cols)
	for j := 0; j < min(half, rows); j++ {
		for i, x := range tmp[j*cols : (j+1)*cols] {
			sums[i] += x
		}
	}
	for j := 0; j < rows; j++ {
		if j+half < rows {
			for i, x := range tmp[(j+half)*cols : (j+half+1)*cols] {
				sums[i] += x
			}
		}
		if k := j - half - 1; k >= 0 {
			for i, x := range tmp[k*cols : (k+1)*cols] {
				sums[i] -= x
			}
		}
		for i := range sums {
			v[j*cols+i] = sums[i] * w
		}
	}
}
