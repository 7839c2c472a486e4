package holding

import "gradeline/catalog/vehicle"

// slants are spans that can be hardest, with their angles on a hill that is steeper by extraPct.
type slants struct {
	extraPct float64
	lead     []slantList // by window; last the parts as recovered
	pitch    slantList
	jolt     slantList
}

// slantList is a list of spans with their angles.
type slantList struct {
	spans  []span // with their air where it was needed
	at     []slant
	few    []int // of spans, those that can be the hardest of any usual truck
	hotC   *float64
	isFull bool // none is left out; for tests
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
	list := func(spans []span) slantList {
		l := newSlantList(spans, extraPct, s.hotC)
		l.isFull = s.isFull
		return l
	}
	*x = slants{extraPct: extraPct, pitch: list(s.pitch), jolt: list(s.jolt)}
	for _, spans := range s.lead {
		x.lead = append(x.lead, list(spans))
	}
	return x
}

// A usual truck's engine brake loses at most usualLossPctPerKM, the most that a class file may state, and
// keeps at least usualShare of its power on the hill. The height that counts for it, in hot air a greater
// one than the road's, falls by at most thinPerM for each metre down. So what it keeps grows by at most
// usualPerM of itself with each metre down. Air's density grows by less.
const (
	usualLossPctPerKM = 30.0
	usualShare        = 0.5
	thinPerM          = 1.24
	usualPerM         = thinPerM * usualLossPctPerKM / 100 / 1000 / usualShare
)

// newSlantList works out the angles of spans, each steeper and no higher than the one before, and the air
// where it is needed. A span is left out of few where the next one of few is harder for every usual truck,
// by undominated's rule: with any rolling resistance its pull is greater in proportion than its air's
// density and than the share that an engine brake keeps there.
func newSlantList(spans []span, extraPct float64, hotC *float64) slantList {
	l := slantList{spans: spans, at: make([]slant, len(spans)), few: make([]int, len(spans)), hotC: hotC}
	keep := len(spans)
	for i := len(spans) - 1; i >= 0; i-- {
		l.at[i] = slantOf(&spans[i], extraPct)
		if keep < len(spans) {
			next := l.few[keep]
			if downM := spans[i].highM - spans[next].highM; downM >= 0 && l.at[next].sin > l.at[i].sin*(1+usualPerM*downM) {
				continue
			}
		}
		keep--
		l.few[keep] = i
	}
	l.few = l.few[keep:]
	for _, i := range l.few {
		spans[i].needAir(hotC)
	}
	if len(spans) > 0 {
		spans[0].needAir(hotC)
	}
	return l
}

// isUsual reports whether few is enough for a truck.
func (l *slantList) isUsual(t *vehicle.Truck) bool {
	return !l.isFull && len(l.spans) > 0 && t.AltitudeLossPctPerKM <= usualLossPctPerKM && t.EngineShare(max(l.spans[0].highM, l.spans[0].thinM)) >= usualShare
}

// most is the greatest number of stretches that addUndominated adds.
func (l *slantList) most(t *vehicle.Truck) int {
	if l.isUsual(t) {
		return len(l.few)
	}
	return len(l.spans)
}

// addUndominated adds a truck's stretches of the spans but those for which a later one is harder for
// every gear and speed.
func (l *slantList) addUndominated(out []stretch, scratch *[]stretch, t *vehicle.Truck) []stretch {
	if len(*scratch) < len(l.spans) {
		*scratch = make([]stretch, 2*len(l.spans))
	}
	list := *scratch
	keep := len(list)
	add := func(i int) {
		l.spans[i].needAir(l.hotC)
		s := forceAt(&l.spans[i], l.at[i], t)
		for k := keep; k < len(list) && !l.isFull; k++ {
			if list[k].isAsHardAs(&s) {
				return
			}
		}
		keep--
		list[keep] = s
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

// isAsHardAs reports whether a steeper stretch further down is as hard as another for every gear and speed.
// A stretch's heaviest mass is (power·engineShare + other power + drag·v²)/pull. The lower one has no less of
// engineShare and drag, so it is as hard where its pull is greater in proportion than both of them are.
// It must be so for one and the same stretch: one that is harder by drag and another that is harder by the
// engine can both be easier than a third, by both.
func (s *stretch) isAsHardAs(other *stretch) bool {
	return s.pullMPS2*other.dragKgPerM >= other.pullMPS2*s.dragKgPerM && s.pullMPS2*other.engineShare >= other.pullMPS2*s.engineShare
}
