package grade

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// residuals is a problem whose heights are off a line of nought by r.
func residuals(r []float64, stepM, sigmaM, tauM, cellM float64) (p *problem, x, w []float64) {
	n := len(r)
	p = &problem{n: n, stepM: stepM, sigmaM: sigmaM, tauM: tauM, cellM: cellM, y: r, w: make([]float64, n), rel: make([]float64, n), asym: 1}
	for i := range r {
		p.w[i], p.rel[i] = 1, 1
	}
	return p, make([]float64, n), p.w
}

// Quantiles of a normal distribution have its standard deviation, whatever a tenth of wild
// ones adds; .75 and 1.33 times the usual bound what is believed, not the ratio.
func TestNoiseFromResidualsIsRobust(t *testing.T) {
	for _, c := range []struct{ sd, believed float64 }{{1, 1}, {1.25, 1.25}, {.8, .8}, {2, 1.33}, {.5, .75}} {
		var r []float64
		for i := range 900 {
			r = append(r, 2*c.sd*distuv.UnitNormal.Quantile((float64(i)+.5)/900))
		}
		p, x, w := residuals(r, 10, 2, 100, 10)
		sd, ratio := noiseFromResiduals(p, x, w, make([]float64, len(r)))
		within(t, "sd", sd, 2*c.believed, .005)
		within(t, "ratio", ratio, c.sd, .005)
		for i := range 100 {
			r = append(r, c.sd*(30+float64(i)))
		}
		p, x, w = residuals(r, 10, 2, 100, 10)
		_, ratio = noiseFromResiduals(p, x, w, make([]float64, len(r)))
		within(t, "ratio with wild ones", ratio, c.sd, .04)
		// What does not count is not looked at; coarser cells' are brought to the median's.
		for i := 900; i < 1000; i++ {
			p.w[i] = 0
		}
		for i := range r {
			p.rel[i], r[i] = 2, 2*r[i]
		}
		_, ratio = noiseFromResiduals(p, x, w, make([]float64, len(r)))
		within(t, "ratio on coarser cells", ratio, c.sd, .005)
	}
	for n, want := range map[int]float64{19: 1, 20: 3} {
		r := make([]float64, n)
		for i := range r {
			r[i] = 6 * distuv.UnitNormal.Quantile((float64(i)+.5)/float64(n))
		}
		p, x, w := residuals(r, 10, 2, 100, 10)
		_, ratio := noiseFromResiduals(p, x, w, make([]float64, n))
		within(t, "ratio of few", ratio, want, .13)
		if tau := tauFromResiduals(p, x, w, 2); n == 19 && tau != 100 {
			t.Errorf("%g m from 19 residuals", tau)
		}
	}
}

// The correlation length is the integral of the autocorrelation, worked out here lag by lag:
// to 600 m, a third of the line or a correlation of .05, with residuals clipped at three
// deviations; .75 to 1.33 times the usual.
func TestCorrelationLengthOfResiduals(t *testing.T) {
	for seed := uint64(1); seed <= 10; seed++ {
		rng := rand.New(rand.NewPCG(seed, 3))
		n := []int{4000, 150, 400}[seed%3]
		tauM := []float64{60, 100, 200, 400}[seed%4]
		r := make([]float64, n)
		phi := math.Exp(-10 / (tauM / 2))
		for i := range r {
			if i > 0 {
				r[i] = phi * r[i-1]
			}
			r[i] += math.Sqrt(1-phi*phi) * rng.NormFloat64()
		}
		for i := 10; i < n; i += 97 {
			r[i] = 8
		}
		p, x, w := residuals(r, 10, 1, 110, 10)
		p.w[33], p.w[57] = 0, 0
		clipped := func(i int) float64 { return math.Max(-3, math.Min(3, r[i])) }
		correlation := func(lag int) float64 {
			sum, m := 0.0, 0
			for i := 0; i+lag < n; i++ {
				if w[i] > 0 && w[i+lag] > 0 {
					sum, m = sum+clipped(i)*clipped(i+lag), m+1
				}
			}
			return sum / float64(m)
		}
		integralM, none := 10.0, correlation(0)
		for lag := 1; lag*10 <= 600 && lag < n/3; lag++ {
			share := correlation(lag) / none
			if share < .05 {
				break
			}
			integralM += 20 * share
		}
		within(t, "correlation length", tauFromResiduals(p, x, w, 1), math.Max(.75*110, math.Min(1.33*110, integralM)), 1e-9)
	}
	// A line that rises evenly is correlated over its length: 600 m are looked at, and of a
	// shorter line a third.
	for _, n := range []int{400, 90} {
		r := make([]float64, n)
		for i := range r {
			r[i] = 1
		}
		p, x, w := residuals(r, 10, 1, 1000, 10)
		lags := min(60, n/3-1)
		within(t, "correlation length of an offset", tauFromResiduals(p, x, w, 1), math.Max(750, math.Min(1330, float64(10+20*lags))), 1e-9)
	}
}

// The local roughness against polynomials of second degree fitted by QR (gonum/mat): windows
// of one correlation length, six cells at least, one each half of it, of unbroken ground.
func TestLocalRoughnessAgainstFittedQuadratics(t *testing.T) {
	for _, c := range []struct {
		cellM, stepM, share float64
		unblurred           bool
	}{{1, 5, .335, false}, {10, 5, .355, false}, {30, 15, .32, true}, {30, 15, .32 * .87, false}, {90, 45, .366, true}} {
		rng := rand.New(rand.NewPCG(uint64(c.cellM), 5))
		r := make([]float64, 900)
		for i := range r {
			r[i] = .4 * rng.NormFloat64()
		}
		p, _, _ := residuals(r, c.stepM, sigmaFromCell(c.cellM), tauFromCell(c.cellM), c.cellM)
		p.unblurred = c.unblurred
		p.w[100], p.w[500] = 0, 0
		half := int(math.Max(3, math.Round(math.Max(tauFromCell(c.cellM), 6*c.cellM)/c.stepM/2)))
		var left []float64
		for mid := half; mid+half < len(r); mid += half {
			rows := 2*half + 1
			a, b := mat.NewDense(rows, 3, nil), mat.NewDense(rows, 1, nil)
			isWhole := true
			for j := range rows {
				u := float64(j-half) / float64(half)
				a.SetRow(j, []float64{1, u, u * u})
				b.Set(j, 0, r[mid-half+j])
				isWhole = isWhole && p.w[mid-half+j] > 0
			}
			if !isWhole {
				continue
			}
			var qr mat.QR
			var fit, off mat.Dense
			qr.Factorize(a)
			if err := qr.SolveTo(&fit, false, b); err != nil {
				t.Fatal(err)
			}
			off.Mul(a, &fit)
			off.Sub(b, &off)
			left = append(left, off.Norm(2)/math.Sqrt(float64(rows-3)))
		}
		slices.Sort(left)
		ratio, windows := localRatio(p, make([]float64, len(r)))
		if windows != len(left) {
			t.Errorf("%g m cells: %d windows, want %d", c.cellM, windows, len(left))
		}
		within(t, "local roughness", ratio, left[len(left)/2]/c.share/sigmaFromCell(c.cellM), 1e-6)
	}
	// Five windows say something, four nothing: windows of 141 m are 29 stations of 5 m, one each 14.
	// Windows have three stations to each side of their middle at least: of 200 m a station, 90 m cells.
	for n, windows := range map[int]int{19: 5, 18: 4} {
		p, _, _ := residuals(make([]float64, n), 200, 5, 300, 90)
		if _, got := localRatio(p, make([]float64, n)); got != windows {
			t.Errorf("%d stations of 200 m: %d windows, want %d", n, got, windows)
		}
	}
	for n, known := range map[int]bool{29 + 4*14: true, 28 + 4*14: false} {
		r := make([]float64, n)
		for i := range r {
			r[i] = float64(i % 2)
		}
		p, _, _ := residuals(r, 5, 1, 141, 10)
		if ratio, windows := localRatio(p, make([]float64, n)); math.IsNaN(ratio) == known || known && windows != 5 {
			t.Errorf("%d stations: %g from %d windows", n, ratio, windows)
		}
	}
}

// Ground that is rougher within windows than a cell size has it, just within each limit and
// just beyond: 3 times the usual over 16 windows at any cell, 2.2 times over 30 at 10 m but not
// up to 3 m; residuals of 1.45 times the usual over 16 windows at 10 m.
func TestLimitsOfRoughnessWithinWindows(t *testing.T) {
	for _, c := range []struct {
		cellM, local, ratio float64
		windows             int
		isFound             bool
	}{
		{2, 3.05, 1, 16, true}, {2, 2.95, 1, 16, false}, {2, 3.05, 1, 15, false}, {2, 2.9, 1, 40, false},
		{10, 3.05, 1, 16, true}, {10, 2.25, 1, 30, true}, {10, 2.15, 1, 30, false}, {10, 2.25, 1, 29, false},
		{10, 1, 1.46, 16, true}, {10, 1, 1.44, 16, false}, {10, 1, 1.46, 15, false},
	} {
		const stepM = 10.0
		half := int(math.Max(3, math.Round(math.Max(tauFromCell(c.cellM), 6*c.cellM)/stepM/2)))
		n := 2*half + 1 + (c.windows-1)*half
		r := &recoverer{x: make([]float64, n), buf: make([]float64, n)}
		r.p = problem{n: n, stepM: stepM, cellM: c.cellM, sigmaM: sigmaFromCell(c.cellM), y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
		for i := range n {
			r.p.y[i], r.p.w[i], r.p.rel[i] = float64(i%2*2-1), 1, 1
		}
		one, windows := localRatio(&r.p, r.buf)
		if windows != c.windows {
			t.Fatalf("%d windows, want %d", windows, c.windows)
		}
		for i := range r.p.y {
			r.p.y[i] *= c.local / one
		}
		if got := r.unreliable(c.ratio); (got != "") != c.isFound {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// From cell size to cell size the limits and shares pass on in the logarithm, by hand just
// beyond the sizes that they were measured at.
func TestLimitsJustBeyondTheMeasuredCells(t *testing.T) {
	share := func(cellM, fromM, from, to float64) float64 {
		return from + math.Log(cellM/fromM)/math.Log(3)*(to-from)
	}
	for cellM, want := range map[float64]float64{3: 3, 10.5: share(10.5, 10, 1.45, 1.6), 31.3: share(31.3, 30, 1.6, 1.06), 200: 1.06} {
		within(t, "limit of residuals", residualLimit(cellM), want, 1e-9)
	}
	for cellM, want := range map[float64]float64{3: .335, 3.1: .355, 10.4: share(10.4, 10, .355, .32), 30.9: share(30.9, 30, .32, .366)} {
		within(t, "share of roughness", localShare(cellM), want, 1e-9)
	}
}
