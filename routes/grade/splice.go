package grade

import "math"

const (
	spliceAgreeSigma = 0.25
	spliceAgreeM     = 150.0
	stencil          = 3 // stations that the jerk term reaches back
)

// energy is the fit's objective over stations a..b, with the final threshold.
func energy(p *problem, x []float64, lambda float64, a, b int) float64 {
	dx := p.stepM
	thr := 1 / (gmEnd * max(p.sigmaM, sigmaFloorM))
	limit, hinge := p.maxRise*dx, (gradeBoundM/dx)*(gradeBoundM/dx)
	lam := lambda / (dx * dx)
	soft, steep := min(softGrade, p.maxRise)*dx, softPerStation(p)
	kk := dx * dx / minVertRadiusM
	cb := curveBound * lam / kk
	lam3 := jerkLengthM * lam / dx
	e := 0.0
	for i := a; i <= b; i++ {
		if w := p.w[i]; w > 0 {
			r := p.y[i] - x[i]
			z := r * thr / p.rel[i]
			if r > 0 {
				z /= p.asym
			}
			e += w * r * r / (1 + z*z)
		}
		if i > 0 {
			a := math.Abs(x[i] - x[i-1])
			if a > limit {
				e += hinge * (a - limit) * (a - limit)
			}
			e += steep * max(0, a-soft)
		}
		if i > 1 {
			d := math.Abs(x[i] - 2*x[i-1] + x[i-2])
			e += lam * d
			if d > kk {
				e += cb * (d - kk) * (d - kk)
			}
		}
		if i > 2 {
			e += lam3 * math.Abs(x[i]-x[i-3]+3*(x[i-2]-x[i-1]))
		}
	}
	return e
}

// splice replaces x by other wherever they differ and that lowers the energy. Energy is local, so
// each block between stretches where both agree is decided alone. In those stretches one passes
// into the other smoothly. A step would count as a kink in the comparison with the next start, and
// a wrong start then won (a 1.4 km tunnel at 10 m came out 4.6 points off). tmp is workspace as
// long as x.
func splice(p *problem, x, other, tmp []float64, lambda float64) {
	near := spliceAgreeSigma * max(p.sigmaM, sigmaFloorM)
	join := max(1, int(math.Ceil(spliceAgreeM/p.stepM)))
	ramp := join / 2
	settle := func(a, b int) { // stations a..b differ
		lo, hi := max(0, a-ramp), min(p.n-1, b+ramp)
		from, to := max(0, lo-stencil), min(p.n-1, hi+stencil)
		copy(tmp[from:to+1], x[from:to+1])
		for i := lo; i <= hi; i++ {
			t := 1.0
			if d := max(a-i, i-b); d > 0 {
				u := float64(d) / float64(ramp+1)
				t = 1 - u*u*(3-2*u)
			}
			tmp[i] += t * (other[i] - tmp[i])
		}
		if energy(p, tmp, lambda, lo, to) < energy(p, x, lambda, lo, to) {
			copy(x[lo:hi+1], tmp[lo:hi+1])
		}
	}
	start, last := -1, -1
	for i := 0; i < p.n; i++ {
		if math.Abs(x[i]-other[i]) < near {
			if start >= 0 && i-last >= join {
				settle(start, last)
				start = -1
			}
			continue
		}
		if start < 0 {
			start = i
		}
		last = i
	}
	if start >= 0 {
		settle(start, last)
	}
}
