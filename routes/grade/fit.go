package grade

import "math"

// problem is one line's data for the fit, in the working direction.
type problem struct {
	n         int
	stepM     float64
	y         []float64 // heights along the aligned line; 0 where weight is 0
	w         []float64 // 0 masked, else the inverse noise variance relative to the median cell's
	rel       []float64 // noise sd relative to the median cell's
	sigmaM    float64
	tauM      float64
	cellM     float64
	maxRise   float64 // |grade| bound
	asym      float64 // below 1: heights above the line count less (trees, roofs)
	unblurred bool    // the effect of averaging in coarse cells is subtracted from the heights
}

// shape holds the smoothness weights of one fit.
type shape struct {
	lambda    float64 // m³
	quadratic bool    // quadratic in the grade's change instead of absolute
	gmFrom    float64 // Geman-McClure threshold in sigmas: first and last
	gmTo      float64
	gmFall    float64
	iter      int
	warm      bool // started near the answer, so |.| needs no wide smoothing
	bare      bool // no cost on steep grades
}

// fitter holds the workspace of fits; not for concurrent use.
type fitter struct {
	band
	u1, u2, u3 []float64 // curvature of the terms in D1, D2, D3
	p1, p2, p3 []float64 // their gradients
	wr, ww     []float64
}

const pad = 3 // padding for stencils that start before the line

func (f *fitter) resize(n int) {
	f.band.resize(n)
	for _, s := range []*[]float64{&f.u1, &f.u2, &f.u3, &f.p1, &f.p2, &f.p3, &f.wr, &f.ww} {
		if cap(*s) < n+pad {
			*s = make([]float64, n+pad+n/4)
		}
		*s = (*s)[:n+pad]
	}
}

// run moves x to a minimum of
//
//	Σ w ρ(y-x) + lambda/dx² Σ|D2 x| + lambda·100 m/dx³ Σ|D3 x| + bounds
//
// by iteratively reweighted Newton steps on majorants; mask may be nil or zero
// where the segmentation skipped a sample. It returns the iterations used.
func (f *fitter) run(p *problem, x, w []float64, s shape) int {
	n := p.n
	f.resize(n)
	gm := s.gmFrom
	widen := epsStart
	if s.warm {
		widen = 1
	}
	prox := proximal
	it := 0
	for ; it < s.iter; it++ {
		top := f.weigh(p, x, w, s, gm, widen)
		for !f.factor(n, prox*top) {
			if prox *= proximalRaise; !(prox < 1) {
				return it // reached only with NaN values
			}
		}
		f.back(n)
		largest := 0.0
		for i, d := range f.z[:n] {
			x[i] += d
			largest = max(largest, math.Abs(d))
		}
		if gm <= s.gmTo && widen <= 1 && largest < stopSigma*p.sigmaM {
			break
		}
		gm = max(s.gmTo, gm*s.gmFall)
		widen = max(1, widen*epsFall)
	}
	return it
}

// weigh sets the terms' curvatures and gradients at x; it returns the largest curvature, which
// scales the regularisation.
func (f *fitter) weigh(p *problem, x, w []float64, s shape, gm, widen float64) float64 {
	f.weighHeights(p, x, w, gm)
	f.weighGrades(p, x, s.bare)
	lam := s.lambda / (p.stepM * p.stepM)
	top := f.weighCurves(p, x, lam, s.quadratic, widen)
	return max(top, f.weighJerks(p, x, lam, s.quadratic, widen), 1)
}

// weighHeights sets the data's terms.
func (f *fitter) weighHeights(p *problem, x, w []float64, gm float64) {
	thr := 1 / (gm * max(p.sigmaM, sigmaFloorM))
	ww, wr := f.ww[pad:], f.wr[pad:]
	for i := 0; i < p.n; i++ {
		if w[i] == 0 {
			ww[i], wr[i] = 0, 0
			continue
		}
		r := p.y[i] - x[i]
		z := r * thr / p.rel[i]
		if r > 0 {
			z /= p.asym
		}
		t := 1 / (1 + z*z)
		v := w[i] * t * t
		ww[i], wr[i] = v, v*r
	}
}

// weighGrades sets the terms of the first differences: steep grades and their bound.
func (f *fitter) weighGrades(p *problem, x []float64, isBare bool) {
	n, dx := p.n, p.stepM
	u1, p1 := f.u1[pad:], f.p1[pad:]
	soft, steep, e1 := min(softGrade, p.maxRise)*dx, softPerStation(p), eps1*dx
	if isBare {
		steep = 0
	}
	limit, hinge := p.maxRise*dx, (gradeBoundM/dx)*(gradeBoundM/dx)
	for i := 0; i < n-1; i++ {
		d := x[i+1] - x[i]
		u1[i], p1[i] = 0, 0
		if a := math.Abs(d); a > 0.8*soft {
			over := a - soft
			u := steep / (4 * max(math.Abs(over), e1))
			u1[i] = u
			p1[i] = math.Copysign(steep/4+u*over, d)
			if a > limit {
				u1[i] += hinge
				p1[i] += hinge * math.Copysign(a-limit, d)
			}
		}
	}
	u1[n-1], p1[n-1] = 0, 0
}

// weighCurves sets the terms of the second differences and returns the largest curvature.
func (f *fitter) weighCurves(p *problem, x []float64, lam float64, isQuadratic bool, widen float64) float64 {
	n, dx := p.n, p.stepM
	e2 := eps2 * dx * widen
	kk := dx * dx / minVertRadiusM
	cb := curveBound * lam / kk
	u2, p2 := f.u2[pad:], f.p2[pad:]
	top := 0.0
	for i := 0; i < n-2; i++ {
		d := x[i] - 2*x[i+1] + x[i+2]
		a := math.Abs(d)
		var u float64
		if isQuadratic {
			u = lam * quadraticPerM / dx
		} else {
			u = lam / (2 * max(a, e2))
		}
		g := u * d
		if a > kk {
			u += cb
			g += cb * math.Copysign(a-kk, d)
		}
		u2[i], p2[i] = u, g
		top = max(top, 16*u)
	}
	u2[max(0, n-2)], u2[n-1], p2[max(0, n-2)], p2[n-1] = 0, 0, 0, 0
	return top
}

// weighJerks sets the terms of the third differences and returns the largest curvature.
func (f *fitter) weighJerks(p *problem, x []float64, lam float64, isQuadratic bool, widen float64) float64 {
	n, dx := p.n, p.stepM
	u3, p3 := f.u3[pad:], f.p3[pad:]
	last := max(0, n-3)
	if isQuadratic {
		last = 0
	}
	lam3 := jerkLengthM * lam / dx / 2
	e3 := eps3 * dx * widen
	top := 0.0
	for i := 0; i < last; i++ {
		d := x[i+3] - x[i] + 3*(x[i+1]-x[i+2])
		u := lam3 / max(math.Abs(d), e3)
		u3[i], p3[i] = u, u*d
		top = max(top, 64*u)
	}
	for i := last; i < n; i++ {
		u3[i], p3[i] = 0, 0
	}
	return top
}

// factor builds each row of the system, eliminates it and carries the gradient
// forward in one pass; false where it is not positive definite.
func (f *fitter) factor(n int, delta float64) bool {
	var l1m1, l1m2, l2m1 float64 // L of the rows above
	var iv1, iv2, iv3 float64    // 1/D of the rows above
	var z1, z2, z3 float64
	u1, u2, u3 := f.u1[:n+pad], f.u2[:n+pad], f.u3[:n+pad]
	p1, p2, p3 := f.p1[:n+pad], f.p2[:n+pad], f.p3[:n+pad]
	ww, wr := f.ww[:n+pad], f.wr[:n+pad]
	l1s, l2s, l3s, invs, zs := f.l1[:n], f.l2[:n], f.l3[:n], f.inv[:n], f.z[:n]
	for i := 0; i < n; i++ {
		j := i + pad
		a0 := ww[j] + delta + u1[j-1] + u1[j] + u2[j] + 4*u2[j-1] + u2[j-2] + u3[j] + 9*(u3[j-1]+u3[j-2]) + u3[j-3]
		a1 := -u1[j-1] - 2*(u2[j-1]+u2[j-2]) - 3*(u3[j-1]+u3[j-3]) - 9*u3[j-2]
		a2 := u2[j-2] + 3*(u3[j-2]+u3[j-3])
		a3 := -u3[j-3]
		g := wr[j] + p1[j] - p1[j-1] - p2[j] + 2*p2[j-1] - p2[j-2] + p3[j] - 3*(p3[j-1]-p3[j-2]) - p3[j-3]
		l3 := a3 * iv3
		c2 := a2 - a3*l1m2
		l2 := c2 * iv2
		c1 := a1 - a3*l2m1 - c2*l1m1
		l1 := c1 * iv1
		d := a0 - l3*a3 - l2*c2 - l1*c1
		if !(d > 0) {
			return false
		}
		iv := 1 / d
		z := g - l1*z1 - l2*z2 - l3*z3
		l1s[i], l2s[i], l3s[i], invs[i], zs[i] = l1, l2, l3, iv, z
		iv3, iv2, iv1 = iv2, iv1, iv
		z3, z2, z1 = z2, z1, z
		l1m2, l1m1, l2m1 = l1m1, l1, l2
	}
	return true
}
