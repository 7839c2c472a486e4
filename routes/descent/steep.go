package descent

import (
	"math"

	"gradeline/routes"
)

// Within a descent the ends of a steep part are at half the excess grade that defines
// it, and an easier stretch of this much excess drop separates two parts: 200 m as
// steep as the descent around them. Our own choice.
const steepReliefM = 2.0

// steepWithin returns the parts of a descent that are steeper than the descent around them by at
// least SteepOverPct, in travel order. It also returns the length of other road that may be as
// steep within its bound.
//
// The descent around them means the descent without them: their own share in the mean
// would hide them on a descent that is half made of steep parts. So what is steeper
// than the mean by half as much is left out first, and the rest is what parts are
// compared with.
func (t *track) steepWithin(s span, o Options) (parts []routes.SteepPart, possibleM float64) {
	aroundPct := t.meanPct(s)
	candidates := t.steepSpans(s, aroundPct+o.SteepOverPct/4, aroundPct+o.SteepOverPct/2, o)
	if without, ok := t.meanWithout(s, candidates); ok {
		aroundPct = without
	}
	spans := t.steepSpans(s, aroundPct+o.SteepOverPct/2, aroundPct+o.SteepOverPct, o)
	return t.steepParts(spans), t.possibleSteepM(s, spans, aroundPct+o.SteepOverPct, o)
}

// steepOutside returns the parts of SteepMinPct and more outside any descent, in travel order,
// and the length of other road that may be as steep within its bound.
func (t *track) steepOutside(descents []span, o Options) (parts []routes.SteepPart, possibleM float64) {
	from := 0
	for _, d := range append(descents, span{len(t.heightM) - 1, len(t.heightM) - 1}) {
		if s := (span{from, d.from}); s.to > s.from {
			spans := t.steepSpans(s, 0.75*o.SteepMinPct, o.SteepMinPct, o)
			found := t.steepParts(spans)
			for i := range found {
				found[i].Flags = t.partFlags(&found[i], spans[i], o)
			}
			parts = append(parts, found...)
			possibleM += t.possibleSteepM(s, spans, o.SteepMinPct, o)
		}
		from = d.to
	}
	return parts, possibleM
}

// steepSpans returns the stretches within s whose mean is leastPct at least over
// SteepMinLengthM at least: found against corePct, and where one so found falls short,
// again inside it against leastPct.
func (t *track) steepSpans(s span, corePct, leastPct float64, o Options) []span {
	isSteep := func(k span) bool {
		return t.lengthM(k) >= o.SteepMinLengthM-1e-6 && t.meanPct(k) >= leastPct-1e-9
	}
	var out []span
	for _, m := range unbroken(t.scoreWithin(s, corePct), steepReliefM) {
		m = span{m.from + s.from, m.to + s.from}
		if isSteep(m) {
			out = append(out, m)
			continue
		}
		for _, k := range unbroken(t.scoreWithin(m, leastPct), steepReliefM) {
			if k = (span{k.from + m.from, k.to + m.from}); isSteep(k) {
				out = append(out, k)
			}
		}
	}
	return out
}

// aroundLeast is the least share of a descent that is "around" its steep parts. With a smaller
// share, benches between even pitches would turn all pitches into steep parts.
const aroundLeast = 0.4

// meanWithout is the mean downgrade of s without parts; not where they leave less than
// aroundLeast of it.
func (t *track) meanWithout(s span, parts []span) (downgradePct float64, ok bool) {
	lengthM, dropM := t.lengthM(s), t.dropM(s)
	for _, k := range parts {
		lengthM -= t.lengthM(k)
		dropM -= t.dropM(k)
	}
	if len(parts) == 0 || lengthM < aroundLeast*t.lengthM(s) {
		return 0, false
	}
	return 100 * dropM / lengthM, true
}

func (t *track) steepParts(spans []span) []routes.SteepPart {
	out := []routes.SteepPart{}
	for _, k := range spans {
		out = append(out, routes.SteepPart{Direction: t.dir, StartM: t.stationM(k.from), EndM: t.stationM(k.to),
			LengthM: t.lengthM(k), MeanDowngradePct: t.meanPct(k), MeanDowngradeErrPct: t.shortErrPct(k)})
	}
	return out
}

// partFlags are the flags of a part outside any descent, as those of a descent.
func (t *track) partFlags(k *routes.SteepPart, s span, o Options) []string {
	flags := []string{}
	if k.MeanDowngradePct-o.SteepMinPct < k.MeanDowngradeErrPct {
		flags = append(flags, routes.FlagBorderline)
	}
	return append(flags, t.groundFlags(s, t.p.InterpolatedM(k.StartM, k.EndM))...)
}

// possibleSteepM is the length within s, without the parts found, of stretches of
// SteepMinLengthM that may have a mean of leastPct within their bound.
func (t *track) possibleSteepM(s span, found []span, leastPct float64, o Options) float64 {
	w := int(math.Ceil(o.SteepMinLengthM/t.stepM - 1e-9))
	counted := s.from // intervals before it are counted or part of what was found
	n := 0
	for i := s.from; i+w <= s.to; i++ {
		k := span{i, i + w}
		if t.meanPct(k)+t.shortErrPct(k) < leastPct {
			continue
		}
		for j := max(i, counted); j < i+w; j++ {
			for len(found) > 0 && found[0].to <= j {
				found = found[1:]
			}
			if len(found) == 0 || j < found[0].from {
				n++
			}
		}
		counted = i + w
	}
	return float64(n) * t.stepM
}
