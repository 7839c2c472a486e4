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
	relief := t.score(o.CorePct())[s.from:s.to]
	for i := range relief {
		relief[i] = -relief[i]
	}
	out := []routes.Bench{}
	for _, m := range maximal(relief) {
		var cost float64
		for _, v := range relief[m.from:m.to] {
			cost += v
		}
		b := span{m.from + s.from, m.to + s.from}
		if t.lengthM(b) < benchLengthM || cost < benchCostM {
			continue
		}
		out = append(out, routes.Bench{
			StartM: t.stationM(b.from), EndM: t.stationM(b.to),
			LengthM: t.lengthM(b), MeanDowngradePct: t.meanPct(b),
		})
	}
	return out
}
