package grade

import (
	"math"
	"math/rand/v2"
	"testing"
)

// written is the fit's objective as its documentation states it, written out apart from
// the code, every constant as a figure. gm is the threshold of the heights in deviations.
func written(p *problem, x []float64, lambda, gm float64, isQuadratic, isBare bool) float64 {
	dx, sum := p.stepM, 0.0
	for i, w := range p.w {
		r := p.y[i] - x[i]
		z := r / (gm * math.Max(p.sigmaM, 0.3) * p.rel[i])
		if r > 0 {
			z /= p.asym
		}
		sum += w * r * r / (1 + z*z)
	}
	// A metre of road above 10 % costs 1 per unit of grade, in units of one independent
	// residual: 1.2 deviations, .45 m at least, one each 60 m.
	residual := math.Max(0.45, 1.2*p.sigmaM)
	perStation := residual * residual * math.Max(1, 60/dx)
	for i := 1; i < len(x); i++ {
		rise := math.Abs(x[i] - x[i-1])
		if !isBare {
			sum += perStation * math.Max(0, rise-math.Min(0.1, p.maxRise)*dx)
		}
		if over := rise - p.maxRise*dx; over > 0 {
			sum += 300 / dx * 300 / dx * over * over
		}
	}
	lam := lambda / dx / dx
	for i := 2; i < len(x); i++ {
		d := math.Abs(x[i] - 2*x[i-1] + x[i-2])
		if isQuadratic {
			sum += lam * 1000 / dx * d * d
		} else {
			sum += lam * d
		}
		if over := d - dx*dx/200; over > 0 { // a vertical radius of 200 m
			sum += 50 * lam / (dx * dx / 200) * over * over
		}
	}
	for i := 3; i < len(x) && !isQuadratic; i++ {
		sum += 50 * lam / dx * math.Abs(x[i]-3*x[i-1]+3*x[i-2]-x[i-3])
	}
	return sum
}

// roughProblem is a line of which every term of the objective has a share: kinks beyond the
// least radius, grades on both sides of both limits, ground far off and missing.
func roughProblem(seed uint64, stepM, sigmaM, asym float64) (*problem, []float64) {
	rng := rand.New(rand.NewPCG(seed, 4))
	const n = 24
	p := &problem{n: n, stepM: stepM, sigmaM: sigmaM, tauM: 100, cellM: 10, maxRise: 0.15, asym: asym, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
	x := make([]float64, n)
	for i := range x {
		if i > 0 {
			x[i] = x[i-1] + stepM*0.2*(2*rng.Float64()-1)
		}
		p.y[i], p.rel[i] = x[i]+5*sigmaM*rng.NormFloat64(), 1+rng.Float64()
		if i%7 != 3 {
			p.w[i] = 1 / (p.rel[i] * p.rel[i])
		}
	}
	return p, x
}

// The energy by which starts are compared is the objective at the last threshold, 3.5.
func TestEnergyIsTheObjective(t *testing.T) {
	for seed := uint64(1); seed <= 8; seed++ {
		for _, c := range []struct{ stepM, sigmaM, asym float64 }{{10, 1, 1}, {5, 0.2, 0.6}, {30, 2.2, 1}, {80, 0.35, 1}} {
			p, x := roughProblem(seed, c.stepM, c.sigmaM, c.asym)
			within(t, "energy", energy(p, x, 37, 0, p.n-1), written(p, x, 37, 3.5, false, false), 1e-9)
			// Of a part, only what its own stations change.
			other := append([]float64(nil), x...)
			other[10] += 0.7
			got := energy(p, other, 37, 10, 13) - energy(p, x, 37, 10, 13)
			want := written(p, other, 37, 3.5, false, false) - written(p, x, 37, 3.5, false, false)
			if math.Abs(got-want) > 1e-7*math.Abs(want)+1e-7 {
				t.Errorf("seed %d: a part's energy changes by %.9g, the whole's by %.9g", seed, got, want)
			}
		}
	}
}

// Each step of the fit goes down the objective's own slope: its gradient is that of the
// objective by differences, at any threshold, quadratic or not, with or without the cost
// of steep grades.
func TestTheFitsGradientIsTheObjectives(t *testing.T) {
	for seed := uint64(1); seed <= 6; seed++ {
		for _, c := range []struct {
			stepM, sigmaM, asym, gm float64
			isQuadratic, isBare     bool
		}{{10, 1, 1, 3.5, false, false}, {5, 0.2, 0.6, 8, false, false}, {30, 2.2, 1, 3.5, true, false}, {15, 1, 1, 5, false, true}, {80, 0.35, 1, 3.5, false, false}} {
			p, x := roughProblem(seed, c.stepM, c.sigmaM, c.asym)
			var f fitter
			f.resize(p.n)
			f.weigh(p, x, p.w, shape{lambda: 37, quadratic: c.isQuadratic, bare: c.isBare}, c.gm, 1)
			for i := range x {
				j := i + pad
				got := f.wr[j] + f.p1[j] - f.p1[j-1] - f.p2[j] + 2*f.p2[j-1] - f.p2[j-2] + f.p3[j] - 3*(f.p3[j-1]-f.p3[j-2]) - f.p3[j-3]
				const h = 1e-6
				at := x[i]
				x[i] = at + h
				up := written(p, x, 37, c.gm, c.isQuadratic, c.isBare)
				x[i] = at - h
				down := written(p, x, 37, c.gm, c.isQuadratic, c.isBare)
				x[i] = at
				if want := -(up - down) / (2 * h) / 2; math.Abs(got-want) > 1e-4*(1+math.Abs(want)) {
					t.Errorf("seed %d, %+v, station %d: gradient %.6f, want %.6f", seed, c, i, got, want)
				}
			}
		}
	}
}

// Where the fit stops is a minimum of the objective to a ten-thousandth: no small shift,
// change of grade or kink from a station on brings it lower.
func TestTheFitEndsAtAMinimum(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	const n, stepM = 120, 10.0
	p := &problem{n: n, stepM: stepM, sigmaM: 1, tauM: 141, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
	for i := range p.y {
		p.w[i], p.rel[i] = 1, 1
		p.y[i] = 0.06*stepM*math.Min(float64(i), 60) + 0.7*rng.NormFloat64()
	}
	x := make([]float64, n)
	copy(x, p.y)
	var f fitter
	s := shape{lambda: 30, gmFrom: 8, gmTo: 3.5, gmFall: 0.8, iter: 40}
	f.run(p, x, p.w, s)
	least := written(p, x, 30, 3.5, false, false)
	if start := written(p, p.y, 30, 3.5, false, false); !(least < 0.2*start) {
		t.Errorf("%.3f from %.3f", least, start)
	}
	other := make([]float64, n)
	for k := range 2000 {
		copy(other, x)
		a, size := rng.IntN(n), 0.002*rng.NormFloat64()
		for i := a; i < n; i++ {
			other[i] += size * []float64{1, float64(i-a) / 20, math.Exp(-float64(i-a) / 5)}[k%3]
		}
		if e := written(p, other, 30, 3.5, false, false); e < least*(1-1e-4) {
			t.Fatalf("a shift of %.4f m from station %d on brings %.6f to %.6f", size, a, least, e)
		}
	}
}

// Where a term's corner is rounded off, its curvature is that of the corner's width: changes
// of grade of 2e-5, of their change by 4e-6, of steepness by 1e-3, each a metre, and as many
// times wider as the fit begins with.
func TestRoundedCornersOfTheObjective(t *testing.T) {
	const n, dx, lambda = 12, 10.0, 37.0
	p := &problem{n: n, stepM: dx, sigmaM: 1, tauM: 100, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
	for i := range n {
		p.w[i], p.rel[i] = 1, 1
	}
	for _, widen := range []float64{1, 30} {
		for _, pct := range []float64{0, 10, 7.9, 8.1} {
			x := make([]float64, n)
			for i := range x {
				x[i] = pct / 100 * dx * float64(i)
			}
			var f fitter
			f.resize(n)
			f.weigh(p, x, p.w, shape{lambda: lambda}, 3.5, widen)
			lam := lambda / dx / dx
			within(t, "curvature of changes", f.u2[pad+4], lam/(2*2e-5*dx*widen), 1e-9)
			within(t, "curvature of jerks", f.u3[pad+4], 50*lam/dx/(2*4e-6*dx*widen), 1e-9)
			steep := 1.2 * 1.2 * 6.0
			switch want := f.u1[pad+4]; pct {
			case 0, 7.9: // far below the soft limit of 10 %
				within(t, "curvature of steepness", want, 0, 0)
			case 10:
				within(t, "curvature of steepness", want, steep/(4*1e-3*dx), 1e-6)
			case 8.1:
				within(t, "curvature of steepness", want, steep/(4*.019*dx), 1e-6)
			}
		}
	}
}

// On ground without error the fit stops as soon as its corners are as sharp as they get: from
// 30 times on by three quarters each step, 12 steps; near its answer with the heights'
// threshold, from 8 by four fifths to 3.5 deviations, 4 steps.
func TestStepsOfTheFit(t *testing.T) {
	const n = 60
	p := &problem{n: n, stepM: 10, sigmaM: 1, tauM: 100, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
	for i := range n {
		p.w[i], p.rel[i] = 1, 1
	}
	r := &recoverer{p: *p}
	for isWarm, want := range map[bool]int{false: 12, true: 4} {
		var f fitter
		s := r.normal()
		s.warm = isWarm
		if got := f.run(p, make([]float64, n), p.w, s); got != want {
			t.Errorf("near its answer %t: %d steps, want %d", isWarm, got, want)
		}
	}
	if s := r.last(); s.iter != 40 || s.gmFrom != 3.5 || s.gmTo != 3.5 || !s.warm {
		t.Errorf("%+v", s)
	}
}

// A fitter that has fitted another line before gives the same.
func TestAFitterForgetsTheLineBefore(t *testing.T) {
	long, x := roughProblem(1, 10, 1, 1)
	short, y := roughProblem(2, 10, 1, 1)
	short.n = 15
	z := append([]float64(nil), y...)
	s := shape{lambda: 37, gmFrom: 8, gmTo: 3.5, gmFall: .8, iter: 40}
	var used, fresh fitter
	used.run(long, x, long.w, s)
	used.run(short, y[:15], short.w[:15], s)
	fresh.run(short, z[:15], short.w[:15], s)
	for i := range 15 {
		if y[i] != z[i] {
			t.Fatalf("station %d: %g m, %g m by a fresh one", i, y[i], z[i])
		}
	}
}
