package descent

import "gradeline/routes"

// A bench is at least this long and costs at least this much excess drop: 100 m
// of level road at the default core grade. Our own choice.
const (
	benchLengthM = 100
	benchCostM   = 3
)

// benches are the easier stretches within s, in travel order: maximal runs in
// which the road falls by less than the core grade.
func (t *track) benches(s span, o Options) []routes.Bench {
	relief := t.scoreWithin(s, o.CorePct())
	for i := range relief {
		relief[i] = -relief[i]
	}
	var spans []span
	for _, m := range maximal(relief) {
		var cost float64
		for _, v := range relief[m.from:m.to] {
			cost += v
		}
		b := span{m.from + s.from, m.to + s.from}
		if t.lengthM(b) >= benchLengthM && cost >= benchCostM {
			spans = append(spans, b)
		}
	}
	out := []routes.Bench{}
	before := s.from
	for i, b := range spans {
		after := s.to
		if i+1 < len(spans) {
			after = spans[i+1].from
		}
		e := routes.Bench{StartM: t.stationM(b.from), EndM: t.stationM(b.to), LengthM: t.lengthM(b)}
		e.MeanDowngradePct, e.MeanDowngradeErrPct = t.meanPct(b), t.shortErrPct(b)
		e.BeforeMeanPct, e.BeforeErrPct = t.meanWithBound(span{before, b.from})
		e.AfterMeanPct, e.AfterErrPct = t.meanWithBound(span{b.to, after})
		out = append(out, e)
		before = b.to
	}
	return out
}

// meanWithBound is the mean downgrade of s with the 95 % half-width of a short part; zero for no
// length: a stretch of given ends may begin or end with a bench.
func (t *track) meanWithBound(s span) (downgradePct, errPct float64) {
	if s.from == s.to {
		return 0, 0
	}
	return t.meanPct(s), t.shortErrPct(s)
}
