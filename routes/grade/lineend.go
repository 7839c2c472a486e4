package grade

import "math"

// A fit runs on straight where its line ends, for a curve there costs and gains little. A
// line that ends on a summit or in a valley floor came out too high or too low there. The
// fit that smooths less errs the other way, so near the ends the grade line moves toward
// it. Figures: NOTES.md, "Line ends".
const (
	lineEndSigmas = 0.6 // of the ground's error: so far apart the two fits are by noise alone
	lineEndTaus   = 1.0 // correlation lengths of the ground's error, over which it fades
)

// lineEndShare is how much of the difference of the two fits beyond noise is taken: all
// up to 10 m cells, .7 at 30 m and .3 from 90 m on, where the other fit is rougher (with .7
// there the last 200 m of a road were 1.15 points off instead of .62, and a surveyed climb
// from a gap to a summit on 83 m cells lost a metre).
func lineEndShare(cellM float64) float64 {
	const at10M, at30M, at90M = 1.0, 0.7, 0.3
	t := math.Log(cellM/30) / math.Log(3)
	if t < 0 {
		return at30M + math.Max(-1, t)*(at30M-at10M)
	}
	return at30M + math.Min(1, t)*(at90M-at30M)
}

// easeLineEnds moves the grade line near both ends of the line, where ground supports
// them. The other fit moves too: their difference stays what smoothing took off.
func (r *recoverer) easeLineEnds() {
	n := r.p.n
	reach := min(n/3, int(lineEndTaus*r.p.tauM/r.p.stepM))
	share := 0.0
	move := func(i, k int) {
		u := float64(k) / float64(reach)
		d := share * (1 - u*u*(3-2*u)) * (r.alt[i] - r.x[i])
		r.x[i] += d
		r.alt[i] += d
	}
	for _, isLast := range []bool{false, true} {
		at := func(k int) int {
			if isLast {
				return n - 1 - k
			}
			return k
		}
		if r.w[at(0)] == 0 { // no ground there: both fits only run on
			continue
		}
		apart := math.Abs(r.alt[at(0)] - r.x[at(0)])
		share = lineEndShare(r.p.cellM) * math.Max(0, 1-lineEndSigmas*r.p.sigmaM/math.Max(apart, 1e-9))
		for k := range reach {
			move(at(k), k)
		}
	}
}
