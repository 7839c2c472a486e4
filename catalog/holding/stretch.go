package holding

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// The spans over which downgrades are taken; see the package's doc.
const (
	WindowM = 200.0 // the shortest with the grade's bound
	partM   = 100.0 // against the retarder less its reserve, as recovered
	pitchM  = 20.0  // against the retarder without reserve, as recovered
)

// stretch is one span of a hill in the terms of the balance.
type stretch struct {
	pullMPS2    float64 // g·(sin θ − Crr·cos θ)
	dragKgPerM  float64 // ½·ρ·CdA
	engineShare float64 // share of an engine brake's power that remains at altitude
	cos         float64
	gradePct    float64
	distanceM   float64 // where it begins, from the crest
	perM        float64 // one over its length where the truck may gain speed over it; else 0
}

// spans are the mean downgrades over a fixed length. Only spans that begin or end at a node are
// listed; the steepest is always one of them.
type span struct {
	pct, errPct   float64
	beginM, highM float64 // highM: the higher of its ends above sea level
	airKgM3       float64 // density there
	thinM         float64 // the height at which the standard atmosphere is as thin; 0: highM
	perM          float64 // one over its length where the truck may gain speed over it; else 0
}

// slant is the angle of a span's steep end, the same for every truck.
type slant struct{ gradePct, sin, cos float64 }

func slantOf(s *span, extraPct float64) slant {
	x := slant{gradePct: s.pct + s.errPct + extraPct}
	x.sin, x.cos = vehicle.SinCosFromDowngrade(x.gradePct)
	return x
}

// forceOf is the demand of the span's stretch at the wheels of this truck.
func forceOf(s span, extraPct float64, t *vehicle.Truck) stretch {
	return forceAt(&s, slantOf(&s, extraPct), t)
}

func forceAt(s *span, x slant, t *vehicle.Truck) stretch {
	return stretch{
		pullMPS2:    vehicle.PullFromSinCosMPS2(x.sin, x.cos, t.RollingResistance),
		dragKgPerM:  0.5 * s.airKgM3 * t.DragAreaM2,
		engineShare: t.EngineShare(max(s.highM, s.thinM)),
		cos:         x.cos, gradePct: x.gradePct, distanceM: s.beginM, perM: s.perM,
	}
}

// spansOf lists a hill's spans of one length in the order in which they begin.
// A hill shorter than that is one span. errOf, where given, is the bound of one: of its
// first and last interval, and its middle.
func spansOf(h *Hill, lengthM, altitudeM float64, errOf func(a, b int, midM float64) float64) []span {
	n := len(h.StationM)
	drop := make([]float64, n) // below the crest
	for i := 1; i < n; i++ {
		drop[i] = drop[i-1] + h.DowngradePct[i-1]/100*(h.StationM[i]-h.StationM[i-1])
	}
	crestM := altitudeM
	if h.ElevationM != nil {
		crestM = h.ElevationM[0]
	}
	total := h.StationM[n-1]
	length := min(lengthM, total)
	altitude := func(dropM float64) float64 {
		if h.ElevationM == nil {
			return altitudeM // a plain hill: thin air all the way down
		}
		return crestM - dropM
	}
	out := make([]span, 0, 2*n)
	a, b := 0, 0 // intervals that hold the begin and the end
	emit := func(begin float64) {
		end := min(begin+length, total)
		for a < n-2 && h.StationM[a+1] <= begin {
			a++
		}
		for b < n-2 && h.StationM[b+1] < end {
			b++
		}
		d0 := dropAt(h, drop, a, begin)
		d1 := dropAt(h, drop, b, end)
		s := span{pct: 100 * (d1 - d0) / (end - begin), beginM: begin, highM: max(altitude(d0), altitude(d1))}
		if errOf != nil {
			s.errPct = errOf(a, b, (begin+end)/2)
		}
		out = append(out, s)
	}
	// Begins in order: nodes, and nodes less the span's length.
	i, j := 0, 0
	for j < n && h.StationM[j]-length < -1e-9 {
		j++
	}
	last := math.Inf(-1)
	for {
		next := math.Inf(1)
		if i < n && h.StationM[i]+length <= total+1e-9 {
			next = h.StationM[i]
		}
		if j < n {
			next = min(next, max(0, h.StationM[j]-length))
		}
		if math.IsInf(next, 1) {
			return out
		}
		if i < n && h.StationM[i] <= next {
			i++
		}
		if j < n && max(0, h.StationM[j]-length) <= next {
			j++
		}
		if next > last+1e-9 {
			emit(next)
			last = next
		}
	}
}

// errRangePct is the narrowest and the widest bound of the mean over WindowM.
func (h *Hill) errRangePct() (least, most float64) {
	least = max(h.LocalErrPct, h.GradeErrPct)
	most = least
	for _, e := range h.ErrPct {
		most = max(most, e)
	}
	return least, most
}

// localErrPct is the widest bound of the mean over WindowM on intervals a to b.
func (h *Hill) localErrPct(a, b int) float64 {
	if h.ErrPct == nil {
		return max(h.LocalErrPct, h.GradeErrPct)
	}
	out := h.GradeErrPct
	for k := a; k <= b; k++ {
		out = max(out, h.ErrPct[k])
	}
	return out
}

// boundLocally gives pieces that follow each other from crest to foot the bound over WindowM in
// place of the complete hill's.
func boundLocally(h *Hill, pieces []span) {
	a := 0
	for i := range pieces {
		end := h.LengthM()
		if i+1 < len(pieces) {
			end = pieces[i+1].beginM
		}
		for a < len(h.DowngradePct)-1 && h.StationM[a+1] <= pieces[i].beginM {
			a++
		}
		b := a
		for b < len(h.DowngradePct)-1 && h.StationM[b+1] < end {
			b++
		}
		pieces[i].errPct = h.localErrPct(a, b)
	}
}

func dropAt(h *Hill, drop []float64, k int, atM float64) float64 {
	return drop[k] + h.DowngradePct[k]/100*(atM-h.StationM[k])
}

// inOrder merges two lists of spans in the order in which they begin.
func inOrder(a, b []span) []span {
	out := append(append(make([]span, 0, len(a)+len(b)), a...), b...)
	slices.SortStableFunc(out, func(x, y span) int { return cmp.Compare(x.beginM, y.beginM) })
	return out
}

// hardest selects the spans that can be the hardest for some truck. A span that is
// neither steeper nor higher than a later one never is. The height of a span counts as
// that of the highest later span, so that one pass is enough; that only makes the air
// thinner. Without withErr the bounds of the grade are left out.
func hardest(spans []span, withErr bool) []span {
	high := make([]float64, len(spans))
	m := math.Inf(-1)
	for i := len(spans) - 1; i >= 0; i-- {
		m = max(m, spans[i].highM)
		high[i] = m
	}
	out := make([]span, 0, 64)
	steepest := math.Inf(-1)
	for i, s := range spans {
		if !withErr {
			s.errPct = 0
		}
		if s.pct+s.errPct > steepest {
			steepest = s.pct + s.errPct
			s.highM = high[i]
			out = append(out, s)
		}
	}
	return out
}

// withAir fills in the air's density of each span.
func withAir(spans []span, tempC *float64) []span {
	for i := range spans {
		if i > 0 && spans[i].highM == spans[i-1].highM {
			spans[i].airKgM3, spans[i].thinM = spans[i-1].airKgM3, spans[i-1].thinM
			continue
		}
		spans[i].setAir(tempC)
	}
	return spans
}

// needAir is setAir where it was not yet needed.
func (s *span) needAir(tempC *float64) {
	if s.airKgM3 == 0 {
		s.setAir(tempC)
	}
}

// setAir fills in the air's density, and in air of a temperature how high it makes the span
// for an engine brake: in hot air that brake has less to work with.
func (s *span) setAir(tempC *float64) {
	s.airKgM3 = vehicle.AirDensityKgM3(s.highM, tempC)
	if tempC != nil {
		s.thinM = vehicle.DensityAltitudeM(s.airKgM3)
	}
}

// checkHill refuses a hill outside the range of the physics.
func checkHill(h *Hill) error {
	n := len(h.StationM)
	bad := func(at float64, what, fix string) error {
		s := h.RouteStationM(at)
		return &catalog.Fault{Kind: catalog.ErrImpossible, StationM: &s, What: what, Fix: fix}
	}
	if !h.isMatched() {
		return bad(0, "the hill's nodes and intervals don't match", "use n nodes and n − 1 intervals")
	}
	if h.StationM[0] != 0 || !(h.LengthM() <= 1e6) {
		return bad(0, "the hill doesn't begin at 0 or is over 1,000 km long", "use distances from the crest in metres")
	}
	if !(h.LocalErrPct >= 0 && h.LocalErrPct < 1e3) || !(h.GradeErrPct >= 0 && h.GradeErrPct < 1e3) {
		return bad(0, "the grade has no error bound", "recover the grade line first")
	}
	for i := 1; i < n; i++ {
		if what, fix := intervalFault(h, i); what != "" {
			return bad(h.StationM[i-1], what, fix)
		}
	}
	if h.ElevationM != nil && !isRoadHeight(h.ElevationM[0]) {
		return bad(0, fmt.Sprintf("%.0f m is not a possible height of a road", h.ElevationM[0]), "check the terrain's vertical unit")
	}
	return nil
}

// isMatched reports whether there are n nodes and n − 1 intervals throughout.
func (h *Hill) isMatched() bool {
	n := len(h.StationM)
	return n >= 2 && len(h.DowngradePct) == n-1 && (h.ErrPct == nil || len(h.ErrPct) == n-1) &&
		(h.ElevationM == nil || len(h.ElevationM) == n) && (h.RadiusM == nil || len(h.RadiusM) == n)
}

// intervalFault names the fault of the interval that ends at node i; empty without one.
func intervalFault(h *Hill, i int) (what, fix string) {
	switch {
	case !(h.StationM[i] > h.StationM[i-1]):
		return "distances don't increase", "sort the nodes"
	case math.IsNaN(h.DowngradePct[i-1]) || math.IsInf(h.DowngradePct[i-1], 0):
		return "the grade line has a gap here", "fill the terrain, or cut the route at the gap"
	case h.ErrPct != nil && !(h.ErrPct[i-1] >= 0 && h.ErrPct[i-1] < 1e3):
		return "the grade has no error bound here", "recover the grade line first"
	case h.ElevationM != nil && !isRoadHeight(h.ElevationM[i]):
		return fmt.Sprintf("%.0f m is not a possible height of a road", h.ElevationM[i]), "check the terrain's vertical unit"
	}
	return "", ""
}

func isRoadHeight(elevationM float64) bool {
	return elevationM >= vehicle.LowestM && elevationM <= vehicle.HighestM
}

// checkSteepest refuses spans steeper than any road that trucks are sent down.
func checkSteepest(h *Hill, spans []span) error {
	for _, s := range spans {
		if s.pct > vehicle.SteepestPct {
			at := h.RouteStationM(s.beginM)
			return &catalog.Fault{Kind: catalog.ErrImpossible, StationM: &at,
				What: fmt.Sprintf("a downgrade of %.1f %% over %.0f m; advice goes to %.0f %%", s.pct, partM, vehicle.SteepestPct),
				Fix:  "check the terrain and the line there, or keep trucks off it"}
		}
	}
	return nil
}
