// Package descent finds sustained downgrades on a recovered grade line, for
// each direction of travel on its own.
//
// Two-level rule: on 10 m stations the downgrade in excess of a core grade
// (three quarters of the least mean) is a score in metres. Maximal-scoring
// segments, broken by relief that costs more than ReliefM, are reported whole
// where their mean and length reach the thresholds; otherwise they are searched
// again inside with the least mean itself as the core.
package descent

import (
	"cmp"
	"math"
	"slices"

	"gradeline/routes"
)

// gridM is the station spacing that the rule works on.
const gridM = 10

// Options are the thresholds; zero values take the defaults.
type Options struct {
	MinMeanPct float64 // least mean downgrade, default 4
	MinLengthM float64 // least length, default 800
	ReliefM    float64 // relief that breaks a descent, in metres of excess drop, default 12
}

// WithDefaults fills zero values.
func (o Options) WithDefaults() Options {
	if o.MinMeanPct == 0 {
		o.MinMeanPct = 4
	}
	if o.MinLengthM == 0 {
		o.MinLengthM = 800
	}
	if o.ReliefM == 0 {
		o.ReliefM = 12
	}
	return o
}

// CorePct is the grade that a descent's ends are found against.
func (o Options) CorePct() float64 { return 0.75 * o.MinMeanPct }

// Find returns the sustained downgrades in one direction of travel, in travel
// order. Route, Name and ID are left to the caller.
func Find(p *routes.Profile, dir routes.Direction, o Options) []routes.Descent {
	reported, _ := search(p, dir, o.WithDefaults())
	return reported
}

// FindNear returns the stretches that miss a threshold by less than their own
// 95 % bounds: they are not reported as descents, and may be one.
func FindNear(p *routes.Profile, dir routes.Direction, o Options) []routes.Descent {
	_, near := search(p, dir, o.WithDefaults())
	return near
}

func search(p *routes.Profile, dir routes.Direction, o Options) (reported, near []routes.Descent) {
	for _, t := range tracks(p, dir) {
		core, least := t.score(o.CorePct()), t.score(o.MinMeanPct)
		for _, m := range unbroken(core, o.ReliefM) {
			if t.qualifies(m, o) {
				reported = append(reported, t.measure(m, o, o.CorePct()))
				continue
			}
			found := false
			for _, k := range unbroken(least[m.from:m.to], o.ReliefM) {
				k = span{k.from + m.from, k.to + m.from}
				if t.qualifies(k, o) {
					reported = append(reported, t.measure(k, o, o.MinMeanPct))
					found = true
				}
			}
			if d := t.measure(m, o, o.CorePct()); !found && isNear(d, o) {
				near = append(near, d)
			}
		}
	}
	return reported, near
}

// isNear reports whether a stretch below a threshold may reach both within its bounds.
func isNear(d routes.Descent, o Options) bool {
	return d.LengthM+math.Hypot(d.StartErrM, d.EndErrM) >= o.MinLengthM &&
		d.MeanDowngradePct+d.MeanDowngradeErrPct >= o.MinMeanPct
}

func sortSpans(s []span) {
	slices.SortFunc(s, func(a, b span) int { return cmp.Compare(a.from, b.from) })
}
