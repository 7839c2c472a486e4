package holding

import (
	"math"

	"gradeline/routes"
)

// windowsM are the lengths over which a mean downgrade is taken at the steep end of its bound, in
// addition to WindowM. The bound of a mean falls with its length.
var windowsM = []float64{300, 500, 1000, 2000}

// needWindowM is the length of windows, on a hill as long, from which the bounds of different
// lengths are distinguished: from there on a bound falls as one over the length.
const needWindowM = 1000.0

// WindowErr is the bound of a hill's means over one length.
type WindowErr struct {
	LengthM float64
	ErrPct  []float64 // 95 % half-width of the mean over LengthM about each interval's middle
}

// windowsFrom reads the bounds of longer means off a profile; nil where it does not state
// them, and for a hill too short to have any.
func windowsFrom(p *routes.Profile, h *Hill) []WindowErr {
	n := len(p.Bound.SpanM)
	if n < 3 || p.Bound.SpanM[n-1] < needWindowM || p.Bound.EaseShare > 0 && len(p.EaseM) != p.Count() {
		return nil
	}
	notOnGroundM := notOnGround(p, h)
	var out []WindowErr
	for _, lengthM := range windowsM {
		if lengthM >= h.LengthM() {
			break
		}
		w := WindowErr{LengthM: lengthM, ErrPct: make([]float64, len(h.DowngradePct))}
		plain := p.Bound.MeanErrPct(lengthM, 0)
		a, b := 0, 0
		for i := range w.ErrPct {
			mid := (h.StationM[i] + h.StationM[i+1]) / 2
			from := max(0, min(mid-lengthM/2, h.LengthM()-lengthM))
			for a < len(w.ErrPct)-1 && h.StationM[a+1] <= from {
				a++
			}
			for b < len(w.ErrPct)-1 && h.StationM[b+1] < from+lengthM {
				b++
			}
			s, e := h.RouteStationM(from), h.RouteStationM(from+lengthM)
			err := plain
			if off := notOnGroundM[b+1] - notOnGroundM[a]; off > 0 || len(p.Coarser) > 0 {
				err = p.BoundOver(s, e).MeanErrPct(lengthM, off)
			}
			if !reachesLineEnd(p, s, e) {
				err *= hiddenPartTimes(h.CellM)
			}
			w.ErrPct[i] = err + steepenedPct(p, s, e, h.Direction)
		}
		out = append(out, w)
	}
	return out
}

// notOnGround is, at each node, the length from the crest that rests on no ground.
func notOnGround(p *routes.Profile, h *Hill) []float64 {
	out := make([]float64, len(h.StationM))
	for i := 1; i < len(out); i++ {
		out[i] = out[i-1]
		if stateAt(p, h.RouteStationM((h.StationM[i-1]+h.StationM[i])/2)) != routes.Measured {
			out[i] += h.StationM[i] - h.StationM[i-1]
		}
	}
	return out
}

// windowSpans lists the spans of every window with their bounds, the hill as one last.
// Where the bounds of longer means are not known, that over WindowM stands for all, and
// the truck may gain nothing over it.
func windowSpans(h *Hill, altitudeM float64) [][]span {
	out := [][]span{spansOf(h, WindowM, altitudeM, func(a, b int, _ float64) float64 { return h.localErrPct(a, b) })}
	if len(h.Windows) == 0 {
		return out
	}
	for i := range h.Windows {
		out = append(out, spansOf(h, h.Windows[i].LengthM, altitudeM, h.Windows[i].errAlong(h)))
	}
	out = append(out, spansOf(h, h.LengthM(), altitudeM, func(int, int, float64) float64 { return h.GradeErrPct }))
	for k, spans := range out {
		lengthM := h.LengthM()
		switch {
		case k == 0:
			lengthM = WindowM
		case k <= len(h.Windows):
			lengthM = h.Windows[k-1].LengthM
		}
		for i := range spans {
			spans[i].perM = 1 / lengthM
		}
	}
	return out
}

// pitchErrTimes is the number of bounds over WindowM by which a pitch of pitchM may be steeper than
// recovered, in the second in which a stage begins to work (checked by simulation).
const pitchErrTimes = 2.0

// drivenPitchTimes is the same where drives have narrowed the bound: a recorder's lag and nodes 20 m
// apart round a pitch by as much as before (of 20 m pitches 99 in 100 are within 3.2 bounds, with
// terrain alone within 2.0).
const drivenPitchTimes = 4.0

// pitchTimes is the one that counts about a place.
func (h *Hill) pitchTimes(distanceM float64) float64 {
	switch at := h.RouteStationM(distanceM); {
	case len(h.Windows) == 0:
		return 1
	case h.hasDrives:
		return drivenPitchTimes
	case min(at, h.RouteM-at) < lineEndM+WindowM/2:
		return pitchErrTimes * lineEndTimes / h.endTimes()
	}
	return pitchErrTimes
}

// endTimes is how often the bound of a mean at the line's end counts.
func (h *Hill) endTimes() float64 {
	if h.CellM <= coarseCellM && !h.hasDrives {
		return fineEndTimes
	}
	return lineEndTimes
}

// easeFromPct is by how much a part must be steeper than the hill about it before more is
// counted than smoothing shows to have been taken off it.
const easeFromPct = 1.0

// easeReachM is the length of hill that a part is compared with.
const easeReachM = 2000.0

// easedMost is the share of a part's additional steepness, beyond easeFromPct, that smoothing may
// have removed in addition: 0 at 1 m cells, .6 at 10 m, 1.2 at 90 m.
func easedMost(cellM float64) float64 { return 0.6 * max(0, math.Log10(cellM)) }

// The bound of a mean that comes within lineEndM of a route's end counts lineEndTimes: there ground
// speaks from one side only, and a steep part may not show at all. On cells up to coarseCellM, without
// drives, fineEndTimes is enough, but for a pitch (checked by simulation).
const (
	lineEndM     = 200.0
	lineEndTimes = 3.0
	fineEndTimes = 2.5
)

// reachesLineEnd reports whether a stretch comes within lineEndM of its route's end.
func reachesLineEnd(p *routes.Profile, aM, bM float64) bool {
	return min(aM, bM) < lineEndM || max(aM, bM) > p.LengthM-lineEndM
}

// hiddenPartTimes is the number of times that the stated bound of other means counts: once up to 30 m cells and 1.15 times at
// 90 m, where a part of 12 % over 300 m does not show at all in a hill of 5 % (checked by simulation).
func hiddenPartTimes(cellM float64) float64 {
	return 1 + 0.15*max(0, min(1.5, math.Log(cellM/30)/math.Log(3)))
}

// Where a structure without a tag, or a void, is hiddenFromM or longer, the bound of a mean counts up to
// hiddenTimes, by the share of it that lies there: such a stretch hides a complete steep part, and
// whoever misread the ground misread it there (checked by simulation).
const (
	hiddenFromM = 300.0
	hiddenTimes = 2.0
)

// shortM is the longest part that smoothing draws toward its neighbours.
const shortM = 500.0

// widenBounds counts what the stated bounds of means leave out.
func (h *Hill) widenBounds(p *routes.Profile) {
	means, hiddenM := h.meansAlong(), hiddenAlong(p, h)
	eased := func(fromM, toM float64) float64 {
		return easedMost(asGoodAsCellM(p, p.BoundOver(h.RouteStationM(fromM), h.RouteStationM(toM))))
	}
	widen := func(errPct []float64, lengthM float64) {
		h.widenAtLineEnds(p, errPct, lengthM)
		if p.CellM <= coarseCellM { // on coarser terrain the complete reserve is kept
			h.widenHidden(hiddenM, errPct, lengthM)
		}
		if lengthM <= shortM {
			h.widenSteepParts(means, eased, errPct, lengthM)
		}
	}
	widen(h.ErrPct, WindowM)
	for i := range h.Windows {
		widen(h.Windows[i].ErrPct, h.Windows[i].LengthM)
	}
}

// widenSteepParts widens the bounds where a part is steeper than the hill about it. A grade
// line that smooths noise away draws such a part toward its neighbours, and on coarse
// terrain the fit that smooths less shows only some of that.
func (h *Hill) widenSteepParts(means func() func(fromM, toM float64) float64, most func(fromM, toM float64) float64, errPct []float64, lengthM float64) {
	total := h.LengthM()
	if total < 1.5*lengthM {
		return
	}
	reach := min(easeReachM, total)
	partMean, mean := means(), means()
	for i := range errPct {
		mid := (h.StationM[i] + h.StationM[i+1]) / 2
		from := max(0, min(mid-lengthM/2, total-lengthM))
		begin := max(0, min(mid-reach/2, total-reach))
		part := partMean(from, from+lengthM)
		about := (mean(begin, begin+reach)*reach - part*lengthM) / (reach - lengthM)
		if extra := part - about - easeFromPct; extra > 0 {
			errPct[i] += most(from, from+lengthM) * extra
		}
	}
}

// widenAtLineEnds widens the bounds of means that reach the line's end.
func (h *Hill) widenAtLineEnds(p *routes.Profile, errPct []float64, lengthM float64) {
	for i := range errPct {
		mid := (h.StationM[i] + h.StationM[i+1]) / 2
		from := max(0, min(mid-lengthM/2, h.LengthM()-lengthM))
		a, b := h.RouteStationM(from), h.RouteStationM(from+lengthM)
		if reachesLineEnd(p, a, b) {
			errPct[i] *= h.endTimes()
		}
	}
}

// hiddenAlong is, at each node, the length from the crest that lies in stretches of hiddenFromM and
// longer without ground under them and without a tag.
func hiddenAlong(p *routes.Profile, h *Hill) []float64 {
	out := make([]float64, len(h.StationM))
	from := 0 // node at which the stretch without ground began
	for i := 1; i < len(out); i++ {
		out[i] = out[i-1]
		mid := h.RouteStationM((h.StationM[i-1] + h.StationM[i]) / 2)
		if stateAt(p, mid) < routes.FoundStructure {
			from = i
			continue
		}
		if long := h.StationM[i] - h.StationM[from]; long >= hiddenFromM {
			for k := from + 1; k <= i; k++ {
				out[k] = out[from] + h.StationM[k] - h.StationM[from]
			}
		}
	}
	return out
}

// widenHidden widens the bounds of means over hidden stretches, given their length from the crest to
// each node. An interval counts if its middle is in the mean.
func (h *Hill) widenHidden(hiddenM, errPct []float64, lengthM float64) {
	if hiddenM[len(hiddenM)-1] == 0 {
		return
	}
	a, b := 0, 0
	for i := range errPct {
		mid := (h.StationM[i] + h.StationM[i+1]) / 2
		from := max(0, min(mid-lengthM/2, h.LengthM()-lengthM))
		for a < len(errPct)-1 && h.StationM[a]+h.StationM[a+1] < 2*from {
			a++
		}
		for b < len(errPct) && h.StationM[b]+h.StationM[b+1] <= 2*(from+lengthM) {
			b++
		}
		share := max(0, min(1, (hiddenM[b]-hiddenM[a])/lengthM))
		errPct[i] *= 1 + (hiddenTimes-1)*share
	}
}

// meansAlong makes functions that give the mean downgrade between two places. One is quick where each
// pair of places is near the pair before.
func (h *Hill) meansAlong() func() func(fromM, toM float64) float64 {
	drop := make([]float64, len(h.StationM))
	for i := 1; i < len(drop); i++ {
		drop[i] = drop[i-1] + h.DowngradePct[i-1]*(h.StationM[i]-h.StationM[i-1])
	}
	at := func(k *int, x float64) float64 { // k is the interval that holds x
		for *k < len(drop)-2 && h.StationM[*k+1] < x {
			*k++
		}
		for *k > 0 && h.StationM[*k] >= x {
			*k--
		}
		return drop[*k] + h.DowngradePct[*k]*(x-h.StationM[*k])
	}
	return func() func(fromM, toM float64) float64 {
		a, b := 0, 0
		return func(fromM, toM float64) float64 { return (at(&b, toM) - at(&a, fromM)) / (toM - fromM) }
	}
}

// errAlong gives the window's bound about places that follow each other down the hill:
// the widest of the three intervals about it.
func (w *WindowErr) errAlong(h *Hill) func(a, b int, midM float64) float64 {
	k := 0
	return func(_, _ int, midM float64) float64 {
		for k < len(w.ErrPct)-1 && h.StationM[k+1] <= midM {
			k++
		}
		e := max(w.ErrPct[k], h.GradeErrPct)
		return max(e, max(w.ErrPct[max(0, k-1)], w.ErrPct[min(k+1, len(w.ErrPct)-1)]))
	}
}
