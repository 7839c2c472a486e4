// Package descent finds sustained downgrades on a recovered grade line, for each direction of
// travel separately.
//
// Two-level rule: on 10 m stations the downgrade in excess of a core grade (three
// quarters of the least mean) is a score in metres. Maximal-scoring segments, broken by
// relief that costs more than ReliefM, are reported complete where their mean and
// length reach the thresholds; otherwise they are searched again inside with the least
// mean itself as the core.
//
// In go a routes.Profile and a direction of travel; out come descents in order of travel:
// stations in metres, downgrades in per cent and positive going down, 95 % half-widths of
// both. What lies within the bound just below the thresholds is listed apart. Nothing here
// fails: a Profile whose heights are not known has no descents there, and the caller finds
// in its state and doubts what was not looked at.
package descent

import (
	"cmp"
	"math"
	"slices"

	"gradeline/routes"
)

// gridM is the station spacing of the rule.
const gridM = 10

// Options are the thresholds; zero values take the defaults.
type Options struct {
	MinMeanPct float64 // least mean downgrade, default 4
	MinLengthM float64 // least length, default 800
	ReliefM    float64 // relief that breaks a descent, in metres of excess drop, default 12

	// Steep parts: least length, default 150 m; steeper than the descent around them by,
	// default 2 points; outside any descent least mean downgrade, default 5.
	SteepMinLengthM float64
	SteepOverPct    float64
	SteepMinPct     float64
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
	if o.SteepMinLengthM == 0 {
		o.SteepMinLengthM = 150
	}
	if o.SteepOverPct == 0 {
		o.SteepOverPct = 2
	}
	if o.SteepMinPct == 0 {
		o.SteepMinPct = 5
	}
	return o
}

// CorePct is the grade level that defines the ends of a descent.
func (o Options) CorePct() float64 { return 0.75 * o.MinMeanPct }

// Findings are the results for one direction of travel, each list in travel order.
type Findings struct {
	Descents []routes.Descent
	// Near are stretches that miss a threshold by less than their own 95 % bounds: they are not
	// reported as descents, but may be one.
	Near []routes.Descent
	// SteepParts are outside any descent. PossibleSteepM is the length of other road that may be as
	// steep within its bound.
	SteepParts     []routes.SteepPart
	PossibleSteepM float64
}

// Find returns the sustained downgrades in one direction of travel, in travel
// order. The caller sets Route, Name and ID.
func Find(p *routes.Profile, dir routes.Direction, o Options) []routes.Descent {
	return FindAll(p, dir, o).Descents
}

// FindAll returns the sustained downgrades in one direction of travel and the other lists. The
// caller sets Route, Name and ID.
func FindAll(p *routes.Profile, dir routes.Direction, o Options) Findings {
	o = o.WithDefaults()
	var f Findings
	for _, t := range tracks(p, dir) {
		core, least := t.score(o.CorePct()), t.score(o.MinMeanPct)
		var spans []span
		report := func(s span, levelPct float64) {
			f.Descents = append(f.Descents, t.measure(s, o, levelPct))
			spans = append(spans, s)
		}
		reliefM := t.statedReliefM(o)
		for _, m := range unbroken(core, reliefM) {
			if t.qualifies(m, o) {
				report(m, o.CorePct())
				continue
			}
			found := false
			for _, k := range unbroken(least[m.from:m.to], reliefM) {
				if k = (span{k.from + m.from, k.to + m.from}); t.qualifies(k, o) {
					report(k, o.MinMeanPct)
					found = true
				}
			}
			if found {
				continue
			}
			if d := t.outline(m, o.CorePct()); isNear(d, o) {
				t.detail(&d, m, o)
				f.Near = append(f.Near, d)
			}
		}
		parts, possibleM := t.steepOutside(spans, o)
		f.SteepParts = append(f.SteepParts, parts...)
		f.PossibleSteepM += possibleM
	}
	return f
}

// A grade line eases a bench, so that its relief comes out too small, the more so the wider the
// bound of its grade. On drawn roads with benches (BenchmarkRelief in catalog/survey) as many
// descents were joined wrongly as parted wrongly with 11 of 12 m at 10 m cells, 10 at 30 m and 8 at
// 90 m: a third less for each point of half-width over 500 m.
const (
	easedReliefPct   = 0.33 // share of the relief for each point of the bound
	easedReliefLeast = 0.6  // of the relief: no less was tried
	benchM           = 500.0
)

// statedReliefM is the relief on the grade line that stands for o.ReliefM on the road. A line
// without a bound, such as an exact one, is taken as it is.
func (t *track) statedReliefM(o Options) float64 {
	if len(t.p.Bound.SpanM) == 0 {
		return o.ReliefM
	}
	return o.ReliefM * max(easedReliefLeast, 1-easedReliefPct*t.p.Bound.MeanErrPct(benchM, 0))
}

// isNear reports whether a stretch below a threshold may reach both within its bounds.
func isNear(d routes.Descent, o Options) bool {
	return d.LengthM+math.Hypot(d.StartErrM, d.EndErrM) >= o.MinLengthM &&
		d.MeanDowngradePct+d.MeanDowngradeErrPct >= o.MinMeanPct
}

func sortSpans(s []span) {
	slices.SortFunc(s, func(a, b span) int { return cmp.Compare(a.from, b.from) })
}
