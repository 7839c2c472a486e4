package grade

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
)

// unbounded keeps the raster's own bounds, where those with drives cannot be computed.
func (f *fusion) unbounded() {
	f.sdM = math.Inf(1)
	for j := range f.sdPct {
		f.sdPct[j] = math.Inf(1)
	}
}

// spread draws from the posterior and computes the standard deviations of the heights' scale, of
// heights, and of mean grades over the calibrated spans beyond what the scale makes of them.
func (f *fusion) spread() {
	rng := rand.New(rand.NewPCG(1, uint64(len(f.x)))) // the same bounds for the same road
	f.sdPct = make([]float64, len(spansM))
	mean, variance := stat.PopMeanVariance(f.x, nil)
	square := variance * float64(len(f.x))
	var sum2M, scale2 float64
	var counts [8]int
	var list [][]float64
	for len(list) < fuseSamples {
		some := f.draws(rng)
		if some == nil {
			f.unbounded()
			return
		}
		list = append(list, some...)
	}
	for _, drawn := range list {
		sum2M += floats.Dot(drawn, drawn)
		if variance >= leastReliefM*leastReliefM {
			off := 0.0
			for i, e := range drawn {
				off += e * (f.x[i] - mean) / square
			}
			for i := range drawn {
				drawn[i] -= off * (f.x[i] - mean)
			}
			scale2 += off * off
		}
		for j, spanM := range spansM {
			apart := f.nodesOf(spanM)
			for i := 0; i+apart < len(f.x); i++ {
				pct := 100 * (drawn[i+apart] - drawn[i]) / spanM
				f.sdPct[j] += pct * pct
				counts[j]++
			}
		}
	}
	f.sdM, f.sdScale = math.Sqrt(sum2M/float64(fuseSamples*len(f.x))), math.Sqrt(scale2/fuseSamples)
	for j := range f.sdPct {
		if counts[j] > 0 {
			f.sdPct[j] = math.Sqrt(f.sdPct[j] / float64(counts[j]))
		} else if j > 0 {
			f.sdPct[j] = f.sdPct[j-1] / 2
		}
	}
}

func (f *fusion) nodesOf(spanM float64) int { return int(math.Round(spanM / f.nodeM)) }

// steepestPct is the greatest mean grade over a span, up or down; over all of a shorter road.
func (f *fusion) steepestPct(spanM float64) (pct float64) {
	apart := min(f.nodesOf(spanM), len(f.x)-1)
	if apart < 1 {
		return 0
	}
	for i := 0; i+apart < len(f.x); i++ {
		pct = max(pct, 100*math.Abs(f.x[i+apart]-f.x[i])/(float64(apart)*f.nodeM))
	}
	return pct
}

// draws are drawsAtOnce draws from the posterior of the heights about their mean; nil where they
// cannot be worked out.
func (f *fusion) draws(rng *rand.Rand) [][]float64 {
	s, globals := &f.sys, len(f.sys.cornerB)
	z, g := make([]float64, s.n*drawsAtOnce), mat.NewVecDense(globals, nil)
	for k := range drawsAtOnce {
		for c := range globals {
			g.SetVec(c, rng.NormFloat64())
		}
		var drawn mat.VecDense
		if err := drawn.SolveVec(s.schur.RawU(), g); err != nil {
			return nil
		}
		for r := range s.n {
			z[r*drawsAtOnce+k] = rng.NormFloat64() - floats.Dot(s.border[r*globals:(r+1)*globals], drawn.RawVector().Data)
		}
	}
	backwardBand(s.factor, z, drawsAtOnce)
	out := make([][]float64, drawsAtOnce)
	for k := range out {
		out[k] = make([]float64, len(f.x))
		for i := range f.x {
			out[k][i] = z[i*s.perNode*drawsAtOnce+k]
		}
	}
	return out
}
