package grade

import (
	"math"
	"math/bits"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// polylineCost is the least cost of a polyline with given knots, of which some pieces skip
// their stations, as the segmentation states it, by a dense solution for all knots' heights
// at once: a piece's samples count in units of 1.2 deviations (.45 m at least), one
// independent each 60 m; each piece has a grade of 0 ± 5 % beforehand and costs 7; a skip
// costs 15 more and 5.5² for each independent residual, in full up to those of 400 m, beyond
// by the saturation.
func polylineCost(p *problem, knots []int, skips []bool, saturation float64) (cost float64, heights []float64) {
	m := len(knots)
	a, b := mat.NewSymDense(m, nil), mat.NewVecDense(m, nil)
	a.SetSym(0, 0, 1e-8)
	perResidual := math.Max(1, 60/p.stepM)
	unit := math.Max(0.45, 1.2*p.sigmaM)
	for k := 1; k < m; k++ {
		from, to := knots[k-1], knots[k]
		prior := 1 / math.Pow(0.05*float64(to-from)*p.stepM, 2)
		a.SetSym(k, k, a.At(k, k)+prior)
		a.SetSym(k-1, k-1, a.At(k-1, k-1)+prior)
		a.SetSym(k-1, k, a.At(k-1, k)-prior)
		cost += 7
		end := to - 1
		if to == p.n-1 {
			end = to
		}
		weight := 0.0
		for i := from; i <= end; i++ {
			weight += p.w[i]
			if skips[k-1] {
				continue
			}
			w := p.w[i] / (unit * unit * perResidual)
			t := float64(i-from) / float64(to-from)
			a.SetSym(k-1, k-1, a.At(k-1, k-1)+w*(1-t)*(1-t))
			a.SetSym(k, k, a.At(k, k)+w*t*t)
			a.SetSym(k-1, k, a.At(k-1, k)+w*t*(1-t))
			b.SetVec(k-1, b.AtVec(k-1)+w*(1-t)*p.y[i])
			b.SetVec(k, b.AtVec(k)+w*t*p.y[i])
			cost += w * p.y[i] * p.y[i]
		}
		if skips[k-1] {
			// The last station is not among those that a skip leaves out to pay for.
			paid := weight
			if to == p.n-1 {
				paid -= p.w[to]
			}
			full := 5.5 * 5.5 * 400 / (p.stepM * perResidual)
			z := paid / perResidual * 5.5 * 5.5
			cost += 15 + math.Min(z, full) + saturation*math.Max(0, z-full)
		}
	}
	var chol mat.Cholesky
	var v mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&v, b) != nil {
		return math.Inf(1), nil
	}
	return cost - mat.Dot(b, &v), append([]float64(nil), v.RawVector().Data...)
}

// The segmentation's polyline is the best of all: every choice of knots, 100 m apart, and of
// pieces that skip is tried here, and its cost solved densely. Of the candidates at a knot
// four are kept, so a few lines in a hundred come out dearer, by 3 % at most.
func TestTheSegmentationFindsTheBestPolyline(t *testing.T) {
	sawSkip, sawLong, pruned := false, false, 0
	const seeds = 18
	for seed := uint64(1); seed <= seeds; seed++ {
		rng := rand.New(rand.NewPCG(seed, 7))
		const n, stepM = 71, 10.0
		sigmaM := []float64{0.2, 0.5, 0.8}[seed%3]
		saturation := []float64{0.4, 0.15}[seed%2]
		p := &problem{n: n, stepM: stepM, sigmaM: sigmaM, tauM: 100, cellM: 10, maxRise: 0.15, asym: 1, y: make([]float64, n), w: make([]float64, n), rel: make([]float64, n)}
		holeFrom := 10 + rng.IntN(20)
		holeTo := holeFrom + []int{12, 20, 46}[seed/3%3]
		kink := 20 + rng.IntN(30)
		for i := range p.y {
			p.w[i], p.rel[i] = 1, 1
			p.y[i] = 0.015*stepM*float64(min(i, kink)) - 0.01*stepM*float64(max(0, i-kink)) + 0.5*sigmaM*rng.NormFloat64()
			if i >= holeFrom && i < holeTo && seed%4 != 0 {
				p.y[i] += 5 * rng.NormFloat64()
			}
		}
		p.w[5] = 0
		best, bestSkips, bestM := math.Inf(1), []bool(nil), []float64(nil)
		var bestKnots []int
		for mask := range 1 << 6 { // inner knots 10 … 60
			knots := []int{0}
			for k := range 6 {
				if mask>>k&1 == 1 {
					knots = append(knots, 10*(k+1))
				}
			}
			knots = append(knots, n-1)
			pieces := len(knots) - 1
			for skip := range 1 << pieces {
				if skip&(skip>>1) != 0 || bits.OnesCount(uint(skip)) > 2 { // two skips in a row are one
					continue
				}
				skips := make([]bool, pieces)
				for i := range skips {
					skips[i] = skip>>i&1 == 1
				}
				if cost, v := polylineCost(p, knots, skips, saturation); cost < best {
					steep := false
					for i, s := range skips {
						g := math.Abs(v[i+1]-v[i]) / (stepM * float64(knots[i+1]-knots[i]))
						steep = steep || g > 0.1 || s && g > 0.1
					}
					if !steep {
						best, bestSkips, bestM, bestKnots = cost, skips, v, knots
					}
				}
			}
		}
		var k skipper
		x, w := make([]float64, n), make([]float64, n)
		k.segment(p, x, w, saturation)
		got := math.Inf(1)
		for _, q := range k.cands[len(k.knot)-1] {
			got = math.Min(got, q.low)
		}
		if got < best*(1-1e-6) || got > best*1.03 {
			t.Errorf("seed %d: cost %.8g, the best polyline's %.8g with knots %v, skips %v", seed, got, best, bestKnots, bestSkips)
		}
		if got > best*(1+1e-6) {
			pruned++
			continue
		}
		for i := 1; i < len(bestKnots); i++ {
			from, to := bestKnots[i-1], bestKnots[i]
			sawSkip, sawLong = sawSkip || bestSkips[i-1], sawLong || bestSkips[i-1] && to-from > 40
			for j := from; j < to; j++ {
				want := bestM[i-1] + (bestM[i]-bestM[i-1])*float64(j-from)/float64(to-from)
				if math.Abs(x[j]-want) > 1e-4 || (w[j] == 0) != (bestSkips[i-1] || j == 5) {
					t.Fatalf("seed %d, station %d: %.5f m, weight %g; the best polyline has %.5f m there, skipped %t", seed, j, x[j], w[j], want, bestSkips[i-1])
				}
			}
		}
	}
	if !sawSkip || !sawLong || pruned > seeds/6 {
		t.Errorf("a skip %t, one over 400 m %t, %d of %d not the very best", sawSkip, sawLong, pruned, seeds)
	}
}

// Knots stand every 100 m, or every cell where it is longer; the last is the last station,
// and one that would be nearer to it than half of that is left out.
func TestKnotsOfTheSegmentation(t *testing.T) {
	for _, c := range []struct {
		n            int
		stepM, cellM float64
		want         []int32
	}{
		{71, 10, 10, []int32{0, 10, 20, 30, 40, 50, 60, 70}}, {66, 10, 10, []int32{0, 10, 20, 30, 40, 50, 60, 65}}, {65, 10, 10, []int32{0, 10, 20, 30, 40, 50, 64}},
		{21, 40, 120, []int32{0, 3, 6, 9, 12, 15, 18, 20}}, {20, 40, 120, []int32{0, 3, 6, 9, 12, 15, 19}}, {5, 150, 90, []int32{0, 1, 2, 3, 4}}, {2, 10, 10, []int32{0, 1}},
	} {
		var k skipper
		k.setKnots(&problem{n: c.n, stepM: c.stepM, cellM: c.cellM})
		if len(k.knot) != len(c.want) {
			t.Errorf("%+v: %v", c, k.knot)
			continue
		}
		for i := range c.want {
			if k.knot[i] != c.want[i] {
				t.Errorf("%+v: %v", c, k.knot)
			}
		}
	}
}

// Of the candidates at a knot those stay that are least at some height, the four cheapest;
// one that another beats everywhere does not, nor one that costs more than is allowed.
func TestCandidatesThatStayAtAKnot(t *testing.T) {
	candidate := func(atM, low float64) quad { // (v - at)² + low
		return quad{a: 1, b: -2 * atM, c: atM*atM + low, at: atM, low: low}
	}
	work := []quad{candidate(0, .001)}
	for i := range 8 {
		work = append(work, candidate(float64(10*i), .01*float64(i)))
	}
	var k skipper
	got := k.prune(nil, work, 1)
	if len(got) != 4 {
		t.Fatalf("%d candidates stay", len(got))
	}
	for i, q := range got {
		if q.at != float64(10*i) || q.low != .01*float64(i) {
			t.Errorf("candidate %d at %g m, cost %g", i, q.at, q.low)
		}
	}
	if got = k.prune(got[:0], []quad{candidate(0, 0), candidate(10, .02), candidate(20, .03)}, .02); len(got) != 2 || got[1].at != 10 {
		t.Errorf("%+v", got)
	}
	if got = k.prune(got[:0], []quad{candidate(0, 2)}, 1); len(got) != 0 {
		t.Errorf("%+v", got)
	}
	// Of equal cost the one from the earlier knot comes first.
	a, b := candidate(0, 0), candidate(10, 0)
	a.from, b.from = 5, 2
	if got = k.prune(got[:0], []quad{a, b}, 1); len(got) != 2 || got[0].from != 2 {
		t.Errorf("%+v", got)
	}
}
