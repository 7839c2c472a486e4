package descent

import "math"

// An end stands where the grade crosses the level that the rule works with.
// How far it may be off follows from how slowly the grade crosses there, and
// from how well the grade is known over that distance.
const (
	// endShare scales the bound of the mean grade in that question. With .8, on 300
	// synthetic roads apart from those that the bound itself was fitted on, ends hold
	// in .978/.968/.956/.970 at 1/10/30/90 m and mean downgrades in
	// .947/.957/.945/.972; .7 gave .971/.940/.956 of the ends at 10/30/90 m on 120.
	endShare  = 0.8
	endLeast  = 0.25   // of the usual bound of an end at this cell size
	endMostM  = 2000.0 // 4,000 m changes no figure above by more than .001
	insideOut = -1
)

// endBound returns the 95 % half-width of an end of s, metres, and how much the
// mean downgrade of s changes within it, points of per cent. An end further out
// must keep up levelPct, one further in must have fallen below it, each within
// the bound of the mean grade over the distance.
func (t *track) endBound(s span, isFoot bool, levelPct float64) (errM, meanPct float64) {
	at, out := s.from, -1
	if isFoot {
		at, out = s.to, 1
	}
	mean, lengthM := t.meanPct(s), t.lengthM(s)
	errM = endLeast * t.p.Bound.EndM
	for _, side := range []int{1, insideOut} {
		for n := 1; float64(n)*t.stepM <= endMostM; n++ {
			j := at + side*out*n
			if j < 0 || j >= len(t.heightM) || side == insideOut && (j <= s.from || j >= s.to) {
				break
			}
			l := float64(n) * t.stepM
			gradePct := t.meanPct(span{min(at, j), max(at, j)})
			e := endShare * t.p.Bound.MeanErrPct(l, t.p.InterpolatedM(t.stationM(at), t.stationM(j)))
			if side == 1 && gradePct+e < levelPct || side == insideOut && gradePct-e > levelPct {
				break
			}
			errM = math.Max(errM, l)
			meanPct = math.Max(meanPct, math.Abs(gradePct-mean)*l/(lengthM+float64(side)*l))
		}
	}
	return errM, meanPct
}
