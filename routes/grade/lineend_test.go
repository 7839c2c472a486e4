package grade

import (
	"math"
	"testing"
)

// A climb of 6 % that rounds off to a summit, where the line ends: closed form, the usual
// error of the cell size, 40 seeds, the curve 600 m long and 300 m. As the fit runs on, the
// summit stood too high by 1.4, 5.0 and 11.0 m and by 2.7, 6.0 and 7.4 m in the mean. What
// is left is known: the best estimate has a standard error as large as the ground's. The bound
// of the height covers it.
func TestASummitAtTheLinesEndIsNotOvershot(t *testing.T) {
	for _, c := range []struct{ cellM, curveM, mostM float64 }{
		{10, 600, 0.75}, {30, 600, 3}, {90, 600, 8.1}, {10, 300, 1.2}, {30, 300, 3.2}, {90, 300, 5.2},
	} {
		stepM := stepFromCell(c.cellM)
		truth := heights(stepM, leg{3000, 6, c.curveM}, leg{c.curveM / 2, 0, 0})
		sumM, within := 0.0, 0
		for seed := uint64(1); seed <= 40; seed++ {
			p := mustRecover(t, lineGround(spoil(truth, stepM, c.cellM, 1, seed), stepM, c.cellM), Options{})
			offM := p.ElevationM[p.Count()-1] - truth[len(truth)-1]
			sumM += offM
			if math.Abs(offM) <= p.ElevationErrM(p.LengthM) {
				within++
			}
		}
		if within < 38 {
			t.Errorf("%g m cells, curve of %g m: %d of 40 heights are within their bounds", c.cellM, c.curveM, within)
		}
		t.Logf("%g m cells, curve of %g m: %.2f m", c.cellM, c.curveM, sumM/40)
		if m := sumM / 40; math.Abs(m) > c.mostM {
			t.Errorf("%g m cells, curve of %g m: the summit stands %.2f m too high in the mean, at most %.1f", c.cellM, c.curveM, m, c.mostM)
		}
	}
}

// A line that ends in the middle of an even climb: it is neither rounded off
// nor steepened in the mean, and what is added by chance stays small against the ground's error (1.0, 2.3 and 5.0 m at a station).
func TestAnEvenClimbRunsOn(t *testing.T) {
	for _, c := range []struct{ cellM, meanM, rmsM float64 }{{10, .25, .8}, {30, .2, 1.4}, {90, .3, 3.1}} {
		stepM := stepFromCell(c.cellM)
		truth := heights(stepM, leg{3500, 6, 0})
		sum, ss := 0.0, 0.0
		for seed := uint64(1); seed <= 40; seed++ {
			p := mustRecover(t, lineGround(spoil(truth, stepM, c.cellM, 1, seed), stepM, c.cellM), Options{})
			for _, e := range []float64{truth[0] - p.ElevationM[0], p.ElevationM[p.Count()-1] - truth[len(truth)-1]} {
				sum += e
				ss += e * e
			}
		}
		t.Logf("%g m cells: %.2f m in the mean, rms %.2f", c.cellM, sum/80, math.Sqrt(ss/80))
		if m, rms := math.Abs(sum/80), math.Sqrt(ss/80); m > c.meanM || rms > c.rmsM {
			t.Errorf("%g m cells: %.2f m in the mean, rms %.2f; at most %.2f and %.2f", c.cellM, m, rms, c.meanM, c.rmsM)
		}
	}
}

// On an even hill without error nothing is moved.
func TestAnEvenEndIsLeftAlone(t *testing.T) {
	const cellM = 10.0
	stepM := stepFromCell(cellM)
	truth := heights(stepM, leg{4000, -7, 0})
	p := mustRecover(t, lineGround(truth, stepM, cellM), Options{})
	for _, i := range []int{0, p.Count() - 1} {
		if e := math.Abs(p.ElevationM[i] - truth[i]); e > 0.12 {
			t.Errorf("station %d: %.3f m off", i, e)
		}
	}
}

// The weight of a move against the closed form: with a uniform prior on 0 to m and a
// Gaussian likelihood of sd s about d, the evidence is √(2π)·s/m·exp(d²/2s²)·(Φ((m-d)/s) -
// Φ(-d/s)), and the mean that of a truncated normal (Johnson, Kotz and Balakrishnan,
// Continuous Univariate Distributions 1, 13.10.1; from memory).
func TestWeighMoveIsATruncatedNormal(t *testing.T) {
	cdf := func(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }
	pdf := func(z float64) float64 { return math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) }
	for _, c := range []struct{ d, s, m float64 }{{0, 4.6, 9}, {5, 4.6, 18}, {12, 4.6, 18}, {-6, 4.6, 9}, {20, 4.6, 9}, {1, .5, 3}} {
		lo, hi := -c.d/c.s, (c.m-c.d)/c.s
		mass := cdf(hi) - cdf(lo)
		wantEvidence := math.Sqrt(2*math.Pi) * c.s / c.m * math.Exp(c.d*c.d/(2*c.s*c.s)) * mass
		wantMean := c.d + c.s*(pdf(lo)-pdf(hi))/mass
		evidence, meanM := weighMove(c.d, c.s, c.m)
		if math.Abs(evidence/wantEvidence-1) > .005 || math.Abs(meanM/wantMean-1) > .005 {
			t.Errorf("%+v: evidence %.5g and mean %.4g, want %.5g and %.4g", c, evidence, meanM, wantEvidence, wantMean)
		}
	}
}

// endOf is a recoverer whose fit climbs at 6 % to the line's last station, with residuals
// there of a parabola of 600 m that ends moveM below it, and no error else.
func endOf(moveM float64) (*recoverer, func(int) int) {
	const n, stepM = 200, 15.0
	r := &recoverer{}
	r.p = problem{n: n, stepM: stepM, sigmaM: 2.229, tauM: 211, cellM: 30, y: make([]float64, n), rel: make([]float64, n)}
	r.x, r.alt, r.w = make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range r.x {
		r.p.rel[i], r.w[i] = 1, 1
		r.x[i] = 0.06 * float64(i) * stepM
		r.alt[i] = r.x[i]
		r.p.y[i] = r.x[i] - moveM*endShape(float64(n-1-i)*stepM, 600)
	}
	return r, func(k int) int { return n - 1 - k }
}

// The move that is measured is the one that is there, its sd that of the best linear
// unbiased estimate, worked out here from the covariance itself by elimination.
func TestEndMoveIsTheBestLinearEstimate(t *testing.T) {
	r, at := endOf(4)
	moveM, sdM := r.endMove(at, 600, r.p.sigmaM)
	n := 42 // stations 0 to 41: 600 m and two more, exclusive
	a := make([][]float64, n)
	for i := range a {
		a[i] = make([]float64, n+1)
		for k := range n {
			a[i][k] = 2.229 * 2.229 * math.Exp(-math.Abs(float64(i-k))*15/105.5)
		}
		a[i][n] = endShape(float64(i)*15, 600)
	}
	info := 0.0 // shape' C⁻¹ shape, by Gauss and back substitution
	for i := range n {
		for k := i + 1; k < n; k++ {
			f := a[k][i] / a[i][i]
			for j := i; j <= n; j++ {
				a[k][j] -= f * a[i][j]
			}
		}
	}
	v := make([]float64, n)
	for i := n - 1; i >= 0; i-- {
		v[i] = a[i][n]
		for k := i + 1; k < n; k++ {
			v[i] -= a[i][k] * v[k]
		}
		v[i] /= a[i][i]
		info += v[i] * endShape(float64(i)*15, 600)
	}
	if want := 1 / math.Sqrt(info); math.Abs(sdM/want-1) > .001 || math.Abs(moveM+4) > 1e-9 {
		t.Errorf("move %.6f ± %.4f, want -4 ± %.4f", moveM, sdM, want)
	}
}

// What the chances beforehand and the lengths come to, worked out apart from this code with
// the full covariance and the closed forms above: a change of either by 5 % shows.
func TestLineEndWeighsItsCurves(t *testing.T) {
	for _, c := range []struct{ moveM, want float64 }{{4, -3.2894}, {1, -0.4984}, {0, 0}, {-4, 3.2894}} {
		r, at := endOf(c.moveM)
		before := r.x[at(0)]
		r.easeLineEnds()
		if got := r.x[at(0)] - before; math.Abs(got-c.want) > .004*math.Abs(c.want)+.0005 {
			t.Errorf("residuals of %.0f m: the end moves by %.4f m, want %.4f", c.moveM, got, c.want)
		}
	}
}
