package descent

import "math"

// steepest returns the greatest mean downgrade over a window within s, per cent, the
// station where it starts in travel, and its 95 % half-width. A stretch shorter than the
// window has its own mean with that one's half-width, meanErrPct.
//
// Smoothing flattens short steep parts most, so the bound begins with what the steepest
// window of a fit that smooths less has over this one; on roads with short steep parts
// that window is right in the median.
func (t *track) steepest(s span, windowM, meanErrPct float64) (downgradePct, startM, errPct float64) {
	if float64(s.to-s.from) <= windowM/t.stepM {
		return t.meanPct(s), t.stationM(s.from), meanErrPct
	}
	best, at := steepestWindow(t.heightM, nil, s, windowM, t.stepM)
	lessSmoothed, _ := steepestWindow(t.heightM, t.easeM, s, windowM, t.stepM)
	end := min(s.to, at+int(math.Ceil(windowM/t.stepM)))
	errPct = t.p.SteepestErrPct(t.stationM(at), t.stationM(end), t.bareM[end]-t.bareM[at], max(0, lessSmoothed-best))
	return best, t.stationM(at), errPct
}

// steepestWindow returns the greatest mean downgrade over windowM within s of heights,
// with more added where given, and the index where it starts.
func steepestWindow(heightM, moreM []float64, s span, windowM, stepM float64) (downgradePct float64, at int) {
	best := math.Inf(-1)
	at = s.from
	w := windowM / stepM
	whole := int(w)
	part := w - float64(whole)
	height := func(i int) float64 {
		if moreM == nil {
			return heightM[i]
		}
		return heightM[i] + moreM[i]
	}
	for i := s.from; i+whole <= s.to; i++ {
		end := height(i + whole)
		if part > 1e-9 {
			if i+whole+1 > s.to {
				break
			}
			end += part * (height(i+whole+1) - end)
		}
		if g := 100 * (height(i) - end) / windowM; g > best {
			best, at = g, i
		}
	}
	return best, at
}
