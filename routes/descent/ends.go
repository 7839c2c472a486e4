package descent

import "math"

// An end is where the grade crosses the level of the rule. Its error depends on how slowly the
// grade crosses the level, and on the error of the grade over that distance.
const (
	endShare  = 0.8    // of the bound of the mean grade, where the error model has none
	endLeast  = 0.25   // of the usual bound of an end at this cell size, and a station
	endMostM  = 2000.0 // 4,000 m changes no cover by more than .001
	insideOut = -1
)

// end is an end of a stretch with its bounds.
type end struct {
	errM    float64 // 95 % half-width along the road
	outM    float64 // how far outside the stretch it may be
	meanPct float64 // how much the stretch's mean downgrade changes within errM, points
}

// endBound returns the bounds of an end of s. An end further out must keep up levelPct,
// one further in must have fallen below it, each within the bound of the mean grade
// over the distance.
func (t *track) endBound(s span, isFoot bool, levelPct float64) end {
	var meanPct float64
	at, out := s.from, -1
	if isFoot {
		at, out = s.to, 1
	}
	mean, lengthM := t.meanPct(s), t.lengthM(s)
	here := t.p.BoundOver(t.stationM(s.from), t.stationM(s.to))
	errM := max(t.stepM, endLeast*here.EndM)
	outM := errM
	share := here.EndShare
	if share == 0 {
		share = endShare
	}
	for _, side := range []int{1, insideOut} {
		interpolatedM := 0.0 // from the end to j, a step more each time
		for n := 1; float64(n)*t.stepM <= endMostM; n++ {
			j := at + side*out*n
			if j < 0 || j >= len(t.heightM) || side == insideOut && (j <= s.from || j >= s.to) {
				break
			}
			l := float64(n) * t.stepM
			interpolatedM += t.p.InterpolatedM(t.stationM(j-side*out), t.stationM(j))
			gradePct := t.meanPct(span{min(at, j), max(at, j)})
			e := share * (t.p.BoundOver(t.stationM(at), t.stationM(j)).MeanErrPct(l, interpolatedM) + math.Abs(t.p.EasePct(t.stationM(at), t.stationM(j))))
			if side == 1 && gradePct+e < levelPct || side == insideOut && gradePct-e > levelPct {
				break
			}
			errM = max(errM, l)
			if side == 1 {
				outM = max(outM, l)
			}
			meanPct = max(meanPct, math.Abs(gradePct-mean)*l/(lengthM+float64(side)*l))
		}
	}
	return end{errM, outM, meanPct}
}
