package raster

import "math"

// snapCells is how close to a cell centre a point must be to count as on it, in
// cells: enough for the rounding of coordinates, far below what changes a height.
const snapCells = 1e-8

// split returns the cell whose centre is at or before pixel coordinate u (0 at the centre of the
// first cell), and the fraction to the next.
func split(u float64) (i int64, f float64) {
	fl := math.Floor(u)
	f = u - fl
	if f < snapCells {
		f = 0
	} else if f > 1-snapCells {
		fl, f = fl+1, 0
	}
	return int64(fl), f
}

// bilinear interpolates between four cell centres: a b north, c d south.
func bilinear(a, b, c, d, fx, fy float64) float64 {
	north := a + fx*(b-a)
	south := c + fx*(d-c)
	return north + fy*(south-north)
}

// keys gives the weights of the taps at -1, 0, 1, 2 for fraction f (Keys, Cubic
// convolution interpolation for digital image processing, IEEE Trans. ASSP 29(6),
// 1981, eq. 15 with a = -1/2; from memory).
func keys(f float64) (w [4]float64) {
	w[0] = f * (-0.5 + f*(1-0.5*f))
	w[1] = 1 + f*f*(-2.5+1.5*f)
	w[2] = f * (0.5 + f*(2-1.5*f))
	w[3] = f * f * (-0.5 + 0.5*f)
	return w
}

// cubic interpolates among 16 taps in rows from the north; taps of no weight must
// be finite.
func cubic(taps *[16]float64, fx, fy float64) float64 {
	wx, wy := keys(fx), keys(fy)
	var z float64
	for r := 0; r < 4; r++ {
		t := taps[4*r : 4*r+4]
		z += wy[r] * (wx[0]*t[0] + wx[1]*t[1] + wx[2]*t[2] + wx[3]*t[3])
	}
	return z
}

// footprint lists the taps with weight, by offset from the base cell along one axis.
func footprint(isCubic bool, f float64) (lo, hi int64) {
	switch {
	case f == 0:
		return 0, 0
	case isCubic:
		return -1, 2
	}
	return 0, 1
}

// interpolate reads the taps of a footprint from a 4 by 4 array whose (1, 1) is the base cell. A
// NaN tap with weight makes the result NaN; taps without weight are ignored.
func interpolate(taps *[16]float32, isCubic bool, fx, fy float64) float64 {
	xlo, xhi := footprint(isCubic, fx)
	ylo, yhi := footprint(isCubic, fy)
	var v [16]float64
	base := float64(taps[5])
	for r := int64(-1); r <= 2; r++ {
		for c := int64(-1); c <= 2; c++ {
			k := (r+1)*4 + c + 1
			if r < ylo || r > yhi || c < xlo || c > xhi {
				v[k] = base
				// Along an axis without weight the value at the same place on the other axis is
				// repeated, so that the arithmetic is the same as inside a block.
				if c >= xlo && c <= xhi {
					v[k] = float64(taps[4+c+1])
				} else if r >= ylo && r <= yhi {
					v[k] = float64(taps[(r+1)*4+1])
				}
				continue
			}
			v[k] = float64(taps[k])
		}
	}
	if isCubic {
		return cubic(&v, fx, fy)
	}
	return bilinear(v[5], v[6], v[9], v[10], fx, fy)
}

var nan32 = float32(math.NaN())

// bilinearRun sets the heights of a run of points in a block whose first pixel is (c, r) and whose
// rows have w values.
func (l *layer) bilinearRun(sc *scratch, rn run, data []float32, c, r, w int64) {
	for k := rn.lo; k < rn.hi; k++ {
		i, fx := split(sc.u[k])
		j, fy := split(sc.v[k])
		off := (j-r)*w + i - c
		north, south := data[off:off+2], data[off+w:off+w+2]
		z := bilinear(float64(north[0]), float64(north[1]), float64(south[0]), float64(south[1]), fx, fy)
		if z != z && (fx == 0 || fy == 0) {
			taps := [16]float32{5: north[0], 6: north[1], 9: south[0], 10: south[1]}
			z = interpolate(&taps, false, fx, fy)
		}
		l.setHeight(sc, k, z)
	}
}

// cubicRun is bilinearRun by cubic convolution.
func (l *layer) cubicRun(sc *scratch, rn run, data []float32, c, r, w int64) {
	var taps [16]float32
	for k := rn.lo; k < rn.hi; k++ {
		i, fx := split(sc.u[k])
		j, fy := split(sc.v[k])
		off := (j-r-1)*w + i - c - 1
		for y := int64(0); y < 4; y++ {
			copy(taps[4*y:4*y+4], data[off+y*w:off+y*w+4])
		}
		l.setHeight(sc, k, interpolate(&taps, true, fx, fy))
	}
}
