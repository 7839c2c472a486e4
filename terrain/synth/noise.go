package synth

import "math"

// field is a smooth Gaussian random field of zero mean and unit variance: cubic
// B-splines on a lattice of independent normals, h metres apart. Its correlation
// along a line is nearly Gaussian with integral length 1.02 h, and the rms of its
// slope along a line is sqrt(1.39)/h. It repeats after 256 h.
type field struct {
	h      float64
	ox, oy float64
	t      *normals
}

// The mean over positions of the sum of squared weights of cubic B-splines is the
// septic B-spline at 0, 151/315; in two dimensions its square is the variance.
const (
	splineVar      = 151.0 / 315
	fieldSlope2    = (2.0 / 3) / splineVar // slope variance times h²
	normalsSide    = 256
	normalsMask    = normalsSide - 1
	normalsEntries = normalsSide * normalsSide
)

type normals [normalsEntries]float32

func newNormals(d dice) *normals {
	t := new(normals)
	for i := range t {
		t[i] = float32(d.NormFloat64())
	}
	return t
}

// newField starts at its own place in the shared table of normals.
func newField(d dice, t *normals, h float64) field {
	return field{h: h, ox: d.Float64() * normalsSide, oy: d.Float64() * normalsSide, t: t}
}

func splineWeights(u float64) (w0, w1, w2, w3 float64) {
	v := 1 - u
	w0 = v * v * v / 6
	w3 = u * u * u / 6
	w1 = 2.0/3 - u*u*(1-u/2)
	w2 = 2.0/3 - v*v*(1-v/2)
	return
}

// at returns the field at (x, y) metres.
func (f *field) valueAt(x, y float64) float64 {
	x = x/f.h + f.ox
	y = y/f.h + f.oy
	fx, fy := math.Floor(x), math.Floor(y)
	a0, a1, a2, a3 := splineWeights(x - fx)
	b0, b1, b2, b3 := splineWeights(y - fy)
	i := int(fx)
	j := int(fy)
	i0, i1, i2, i3 := i&normalsMask, (i+1)&normalsMask, (i+2)&normalsMask, (i+3)&normalsMask
	s := 0.0
	for k, b := range [4]float64{b0, b1, b2, b3} {
		r := ((j + k) & normalsMask) << 8
		s += b * (a0*float64(f.t[r|i0]) + a1*float64(f.t[r|i1]) + a2*float64(f.t[r|i2]) + a3*float64(f.t[r|i3]))
	}
	return s / splineVar
}

// along returns the one-dimensional field of the same kind at s metres.
func (f *field) along(s float64) float64 {
	s = s/f.h + f.ox
	fs := math.Floor(s)
	a0, a1, a2, a3 := splineWeights(s - fs)
	i := int(fs)
	r := int(f.oy) << 8 & (normalsEntries - 1)
	v := a0*float64(f.t[r|i&normalsMask]) + a1*float64(f.t[r|(i+1)&normalsMask]) +
		a2*float64(f.t[r|(i+2)&normalsMask]) + a3*float64(f.t[r|(i+3)&normalsMask])
	return v / math.Sqrt(splineVar)
}

// white returns an independent normal for each cell of a raster.
func (t *normals) white(salt uint64, col, row int) float64 {
	z := salt + uint64(uint32(col))<<32 + uint64(uint32(row))
	// splitmix64 finaliser (Steele, Lea, Flood 2014), from memory
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	z ^= z >> 31
	return float64(t[z&(normalsEntries-1)])
}
