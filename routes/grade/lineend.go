package grade

import "math"

// The fit's cost on a change of grade reduces every change by the same amount. Within a line the
// ground on both sides outweighs that. At its end there is ground on one side only, so a line that
// ends on a summit or in a valley continues straight: too high or too low. Here that end is judged
// again without that cost: the grade continues, or eases towards level over the last lineEndsM, or
// steepens by as much. The residuals near the end set the weights by the ground's own error; the
// result is the mean of the three. Figures: NOTES.md, "Line ends".
const (
	lineEndChance = 0.4 // prior probabilities that an end eases, and that it steepens; a larger one for easing took 7 m off a surveyed climb
	lineEndClip   = 2.0 // sigmas: larger residuals are cut to this
	lineEndPart   = 3   // a curve is at most this part of the line
	lineEndPoints = 32  // of the integral over how far an end eases
	lineEndLeast  = 0.1 // sigmas: an end that cannot ease by more is not changed
)

// lineEndsM are the lengths of the last vertical curve: crests and sags between 6 and 0 %
// at 50 and 100 km/h (common practice, no source).
var lineEndsM = []float64{300, 600}

// easeLineEnds moves the grade line near both ends of the line, where there is ground. The fit with
// less smoothing is kept: a move that it does not share widens the bounds.
func (r *recoverer) easeLineEnds() {
	n := r.p.n
	fromEnd := func(isLast bool) func(int) int {
		return func(k int) int {
			if isLast {
				return n - 1 - k
			}
			return k
		}
	}
	// Both ends are read before either moves: on a short line they share ground.
	first, last := r.lineEnd(fromEnd(false)), r.lineEnd(fromEnd(true))
	for _, e := range []struct {
		curves []endCurve
		at     func(int) int
	}{{first, fromEnd(false)}, {last, fromEnd(true)}} {
		for _, c := range e.curves {
			for k := 0; float64(k)*r.p.stepM < c.lengthM; k++ {
				r.x[e.at(k)] += c.moveM * endShape(float64(k)*r.p.stepM, c.lengthM)
			}
		}
	}
}

// endCurve is a parabola that leaves the grade line lengthM before the end of the line and
// is moveM above it there.
type endCurve struct{ lengthM, moveM float64 }

// endShape is how much of the move at the end remains at a distance from it.
func endShape(fromEndM, lengthM float64) float64 {
	u := max(0, 1-fromEndM/lengthM)
	return u * u
}

// lineEnd weighs the curves that one end of the line may have; at returns the k-th station from
// that end. It is empty where nothing moves.
func (r *recoverer) lineEnd(at func(int) int) []endCurve {
	p := &r.p
	if r.w[at(0)] == 0 { // no ground there: the fit only continues
		return nil
	}
	sigmaM := p.sigmaM * p.rel[at(0)]
	total := 1 - 2*lineEndChance
	var out []endCurve
	for _, lengthM := range lineEndsM {
		k := int(lengthM / p.stepM)
		if k > p.n/lineEndPart {
			continue
		}
		rise := (r.x[at(0)] - r.x[at(k)]) / (float64(k) * p.stepM) // outward
		mostM := math.Abs(rise) * lengthM / 2                      // up to level
		if mostM < lineEndLeast*sigmaM {
			continue
		}
		moveM, sdM := r.endMove(at, lengthM, sigmaM)
		for _, sign := range []float64{1, -1} {
			evidence, meanM := weighMove(sign*moveM, sdM, mostM)
			evidence *= lineEndChance / float64(len(lineEndsM))
			total += evidence
			out = append(out, endCurve{lengthM, sign * meanM * evidence})
		}
	}
	for i := range out {
		out[i].moveM /= total
	}
	return out
}

// endMove is the least-squares move at the end by the residuals near it, whose error is
// correlated over half of tau (so that tau is the integral of both sides), and its sd.
func (r *recoverer) endMove(at func(int) int, lengthM, sigmaM float64) (moveM, sdM float64) {
	p := &r.p
	corr := math.Exp(-p.stepM / (p.tauM / 2))
	fresh := math.Sqrt(1 - corr*corr)
	var ss, sr, shapeBefore, resBefore float64
	for k := 0; k < p.n && float64(k)*p.stepM < lengthM+2*p.stepM && r.w[at(k)] > 0; k++ {
		shape := endShape(float64(k)*p.stepM, lengthM)
		res := max(-lineEndClip*sigmaM, min(lineEndClip*sigmaM, p.y[at(k)]-r.x[at(k)]))
		s, e := shape, res
		if k > 0 {
			s, e = (shape-corr*shapeBefore)/fresh, (res-corr*resBefore)/fresh
		}
		ss += s * s
		sr += s * e
		shapeBefore, resBefore = shape, res
	}
	return sr / ss, sigmaM / math.Sqrt(ss)
}

// weighMove compares how likely a measured move is if the true one is anywhere from 0 to mostM, and
// if there is none. It returns the ratio, and the mean of the true move in the first case.
func weighMove(moveM, sdM, mostM float64) (evidence, meanM float64) {
	sum, first := 0.0, 0.0
	for i := range lineEndPoints {
		u := (float64(i) + 0.5) / lineEndPoints * mostM
		like := math.Exp((moveM - u/2) * u / (sdM * sdM))
		sum += like
		first += u * like
	}
	return sum / lineEndPoints, first / sum
}
