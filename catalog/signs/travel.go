package signs

import (
	"fmt"
	"math"

	"gradeline/routes"
	"gradeline/terrain"
)

// travel is a descent's grade line in the direction of travel: x is metres from
// the crest, evenly spaced, heights fall as x grows.
type travel struct {
	p        *routes.Profile
	bound    routes.ErrorModel // the widest on the descent
	dir      routes.Direction
	startM   float64 // station of the crest
	lenM     float64
	stepM    float64
	heightM  []float64
	onGround []bool
	endsErrM float64 // 95 % half-widths of crest and foot, together
}

// newTravel resamples the profile between the descent's crest and foot.
func newTravel(d *routes.Descent, p *routes.Profile) (*travel, error) {
	lenM := math.Abs(d.EndM - d.StartM)
	down := d.EndM > d.StartM
	switch {
	case p == nil || p.Count() < 2 || !(p.StepM > 0):
		return nil, &Fault{Kind: terrain.ErrInput, Feature: d.ID, What: "no grade line for this descent", Fix: "give the profile of the descent's route"}
	case !(lenM > 0):
		return nil, &Fault{Kind: terrain.ErrInput, Feature: d.ID, What: "crest and foot are the same station", Fix: "check the descent's stations"}
	case down != (d.Direction == routes.Forward):
		return nil, &Fault{Kind: terrain.ErrInput, Feature: d.ID, StationM: &d.StartM,
			What: fmt.Sprintf("a %s descent cannot run from station %.0f m to %.0f m", d.Direction, d.StartM, d.EndM),
			Fix:  "stations grow forward and fall backward"}
	}
	n := max(1, int(math.Round(lenM/p.StepM)))
	bound := p.BoundOver(d.StartM, d.EndM)
	t := &travel{p: p, bound: bound, dir: d.Direction, startM: d.StartM, lenM: lenM, stepM: lenM / float64(n),
		endsErrM: math.Max(d.StartErrM, bound.EndM) + math.Max(d.EndErrM, bound.EndM)}
	for i := 0; i <= n; i++ {
		station := t.stationM(float64(i) * t.stepM)
		h := p.ElevationAtM(station)
		if math.IsNaN(h) {
			return nil, &Fault{Kind: terrain.ErrVoid, Feature: d.ID, StationM: &station,
				What: "the grade line has a gap here", Fix: "give terrain that covers the descent, or cut the descent"}
		}
		t.heightM = append(t.heightM, h)
		k := min(max(int(math.Round(p.IndexFromStationM(station))), 0), p.Count()-1)
		t.onGround = append(t.onGround, k >= len(p.State) || p.State[k] == routes.Measured)
	}
	return t, nil
}

// sgn is +1 forward, −1 backward.
func (t *travel) sgn() float64 {
	if t.dir == routes.Backward {
		return -1
	}
	return 1
}

// stationM gives the station of x metres past the crest.
func (t *travel) stationM(xM float64) float64 { return t.startM + t.sgn()*xM }

// pastM returns the distance of a station past the crest, in travel.
func (t *travel) pastM(stationM float64) float64 { return t.sgn() * (stationM - t.startM) }

// onLine reports whether a station is on the route's line.
func (t *travel) onLine(stationM float64) bool { return stationM >= 0 && stationM <= t.p.LengthM }

// heightAtM interpolates the grade line at x; x is held by the caller to 0…lenM.
func (t *travel) heightAtM(xM float64) float64 {
	x := xM / t.stepM
	i := min(max(int(x), 0), len(t.heightM)-2)
	f := x - float64(i)
	return t.heightM[i] + f*(t.heightM[i+1]-t.heightM[i])
}

// downPct is the mean downgrade between two places.
func (t *travel) downPct(fromM, toM float64) float64 {
	return 100 * (t.heightAtM(fromM) - t.heightAtM(toM)) / (toM - fromM)
}

// interpolatedM is the length of a stretch without measured ground.
func (t *travel) interpolatedM(fromM, toM float64) float64 {
	sum := 0.0
	for i, ok := range t.onGround {
		if x := float64(i) * t.stepM; !ok && x >= fromM-1e-9 && x < toM-1e-9 {
			sum += t.stepM
		}
	}
	return math.Min(sum, toM-fromM)
}

// errPct is the 95 % half-width of the mean grade over a stretch.
func (t *travel) errPct(fromM, toM float64) float64 {
	return t.bound.MeanErrPct(toM-fromM, t.interpolatedM(fromM, toM)) + math.Abs(t.p.EasePct(t.stationM(fromM), t.stationM(toM)))
}

// easedPct is the amount by which a stretch may be steeper in travel than recovered, since
// smoothing pulls a steep part toward its neighbours.
func (t *travel) easedPct(fromM, toM float64) float64 {
	return math.Max(0, -t.sgn()*t.p.EasePct(t.stationM(fromM), t.stationM(toM)))
}

// steepest finds the window of the given length with the greatest mean downgrade
// inside from…to; a shorter stretch gives its own mean over itself.
func (t *travel) steepest(fromM, toM, windowM float64) (atM, pct float64) {
	if toM-fromM <= windowM {
		return fromM, t.downPct(fromM, toM)
	}
	atM, pct = fromM, math.Inf(-1)
	try := func(a float64) {
		if a < fromM-1e-9 || a+windowM > toM+1e-6 {
			return
		}
		if g := t.downPct(a, math.Min(a+windowM, toM)); g > pct+1e-12 {
			atM, pct = a, g
		}
	}
	// The best window of a piecewise linear line has an end on a vertex.
	try(fromM)
	try(toM - windowM)
	for i := range t.heightM {
		x := float64(i) * t.stepM
		try(x)
		try(x - windowM)
	}
	return atM, pct
}

// span is a stretch in metres past the crest.
type span struct{ fromM, toM float64 }

func (s span) lengthM() float64 { return s.toM - s.fromM }

// above returns the maximal-scoring segments of from…to for the score drop − G·length
// (Ruzzo and Tompa 1999): stretches whose mean downgrade is at least gradePct,
// from each end inwards too, in order. With sign −1, stretches under gradePct.
func (t *travel) above(within span, gradePct, sign float64) []span {
	type seg struct {
		a, b int
		l, r float64 // score before it, and at its end
	}
	first := int(math.Ceil(within.fromM/t.stepM - 1e-9))
	last := min(int(math.Floor(within.toM/t.stepM+1e-9)), len(t.heightM)-1)
	var segs []seg
	sum := 0.0
	for i := first; i < last; i++ {
		s := sign * (t.heightM[i] - t.heightM[i+1] - (gradePct-1e-7)/100*t.stepM)
		before := sum
		sum += s
		if s <= 0 {
			continue
		}
		cur := seg{i, i + 1, before, sum}
		for {
			j := len(segs) - 1
			for j >= 0 && segs[j].l >= cur.l {
				j--
			}
			if j < 0 || segs[j].r >= cur.r {
				break
			}
			cur = seg{segs[j].a, cur.b, segs[j].l, cur.r}
			segs = segs[:j]
		}
		segs = append(segs, cur)
	}
	var out []span
	for _, s := range segs {
		out = append(out, span{float64(s.a) * t.stepM, float64(s.b) * t.stepM})
	}
	return out
}

// pieces cuts the descent at its benches, if it has any.
func (t *travel) pieces(split bool, rule BenchRule) (pieces []span, benches []span) {
	whole := span{0, t.lenM}
	// A stretch that could be steep within its bound is not a bench.
	below := rule.BelowPct - t.bound.MeanErrPct(rule.LongerThanM, 0)
	for _, b := range t.above(whole, below, -1) {
		if b.lengthM() >= rule.LongerThanM && t.downPct(b.fromM, b.toM)+t.errPct(b.fromM, b.toM) <= rule.BelowPct {
			benches = append(benches, b)
		}
	}
	if !split {
		return []span{whole}, benches
	}
	from := 0.0
	for _, b := range benches {
		if b.fromM-from > t.stepM/2 {
			pieces = append(pieces, span{from, b.fromM})
		}
		from = b.toM
	}
	if t.lenM-from > t.stepM/2 {
		pieces = append(pieces, span{from, t.lenM})
	}
	return pieces, benches
}
