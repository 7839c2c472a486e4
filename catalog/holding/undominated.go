package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// slants are spans that can be hardest, with their angles on a hill that is steeper by extraPct.
type slants struct {
	extraPct float64
	lead     []slantList // by window; last the parts as recovered
	pitch    slantList
	jolt     slantList
}

// slantList is a list of spans with their angles.
type slantList struct {
	spans    []span
	at       []slant
	few      []int   // of spans, those that can be the hardest of any usual truck
	highestM float64 // for engine brakes
}

// slantsFor gives the spans that can be hardest on the hill when it is steeper; the hill as it is and
// the last other one are cached.
func (s *slope) slantsFor(extraPct float64) *slants {
	x := &s.slants[0]
	if extraPct != 0 {
		x = &s.slants[1]
	}
	if x.lead != nil && x.extraPct == extraPct {
		return x
	}
	*x = slants{extraPct: extraPct, pitch: newSlantList(s.pitch, extraPct), jolt: newSlantList(s.jolt, extraPct)}
	for _, spans := range s.lead {
		x.lead = append(x.lead, newSlantList(spans, extraPct))
	}
	return x
}

// A usual truck's engine brake loses at most usualLossPctPerKM and keeps at least usualShare of its
// power on the hill. leastSin keeps level spans out of the comparison, and surely outweighs rounding.
const (
	usualLossPctPerKM = 30.0
	usualShare        = 0.5
	leastSin          = 1e-4
	surely            = 1 + 1e-9
)

// newSlantList works out the angles of spans, each steeper and no higher than the one before. A span is
// left out of few where the next one of few is harder for every usual truck, by undominated's rule:
// with any rolling resistance its pull is greater in proportion than its air's density and than the
// share that an engine brake keeps there.
func newSlantList(spans []span, extraPct float64) slantList {
	const shareMostPerM = usualLossPctPerKM / 100 / 1000 / usualShare
	l := slantList{spans: spans, at: make([]slant, len(spans)), few: make([]int, len(spans)), highestM: math.Inf(-1)}
	keep := len(spans)
	for i := len(spans) - 1; i >= 0; i-- {
		a := &spans[i]
		l.at[i] = slantOf(a, extraPct)
		highM := max(a.highM, a.thinM)
		l.highestM = max(l.highestM, highM)
		if keep < len(spans) {
			b := &spans[l.few[keep]]
			sin, next := l.at[i].sin*surely, l.at[l.few[keep]].sin
			if sin > leastSin && next > sin && next*a.airKgM3 > sin*b.airKgM3 && b.airKgM3 >= a.airKgM3 &&
				next > sin*(1+shareMostPerM*max(0, highM-max(b.highM, b.thinM))) {
				continue
			}
		}
		keep--
		l.few[keep] = i
	}
	l.few = l.few[keep:]
	return l
}

// isUsual reports whether few is enough for a truck.
func (l *slantList) isUsual(t *vehicle.Truck) bool {
	return t.AltitudeLossPctPerKM <= usualLossPctPerKM && t.EngineShare(l.highestM) >= usualShare
}

// addUndominated adds a truck's stretches of the spans but those for which a later one is harder for
// every gear and speed. A stretch's heaviest mass is (power·engineShare + other power + drag·v²)/pull;
// a later stretch has no less of engineShare and drag, so it is harder where its pull is greater in
// proportion than both of them are.
func (l *slantList) addUndominated(out []stretch, scratch *[]stretch, t *vehicle.Truck) []stretch {
	if len(*scratch) < len(l.spans) {
		*scratch = make([]stretch, 2*len(l.spans))
	}
	list := *scratch
	keep := len(list)
	drag, engine := math.Inf(-1), math.Inf(-1)
	add := func(i int) {
		s := forceAt(&l.spans[i], l.at[i], t)
		byDrag, byEngine := s.pullMPS2/s.dragKgPerM, s.pullMPS2/max(s.engineShare, 1e-12)
		if byDrag > drag || byEngine > engine {
			drag, engine = max(drag, byDrag), max(engine, byEngine)
			keep--
			list[keep] = s
		}
	}
	if l.isUsual(t) {
		for k := len(l.few) - 1; k >= 0; k-- {
			add(l.few[k])
		}
	} else {
		for i := len(l.spans) - 1; i >= 0; i-- {
			add(i)
		}
	}
	return append(out, list[keep:]...)
}
