package descent

import (
	"math"

	"gradeline/routes"
)

// straightM is the radius above which a road counts as straight.
const straightM = 5000

// measure describes a stretch, found against levelPct, as a descent.
func (t *track) measure(s span, o Options, levelPct float64) routes.Descent {
	d := t.outline(s, levelPct)
	t.detail(&d, s, o)
	return d
}

// outline gives a stretch's ends, length and mean with their bounds.
func (t *track) outline(s span, levelPct float64) routes.Descent {
	d := routes.Descent{
		Direction:        t.dir,
		StartM:           t.stationM(s.from),
		EndM:             t.stationM(s.to),
		LengthM:          t.lengthM(s),
		DropM:            t.dropM(s),
		MeanDowngradePct: t.meanPct(s),
	}
	crest, foot := t.endBound(s, false, levelPct), t.endBound(s, true, levelPct)
	d.StartErrM, d.EndErrM = crest.errM, foot.errM
	d.StartOuterM, d.EndOuterM = t.stationBeyond(s.from, -crest.outM), t.stationBeyond(s.to, foot.outM)
	d.MeanDowngradeErrPct = math.Hypot(t.p.MeanErrPct(d.StartM, d.EndM), math.Hypot(crest.meanPct, foot.meanPct))
	return d
}

// detail adds the other figures of a descent.
func (t *track) detail(d *routes.Descent, s span, o Options) {
	d.CrestElevationM, d.FootElevationM = t.heightM[s.from], t.heightM[s.to]
	d.CrestElevationErrM, d.FootElevationErrM = t.p.ElevationErrM(d.StartM), t.p.ElevationErrM(d.EndM)
	crest, foot := t.p.PointAt(d.StartM), t.p.PointAt(d.EndM)
	d.CrestLonDeg, d.CrestLatDeg, d.FootLonDeg, d.FootLatDeg = crest[0], crest[1], foot[0], foot[1]
	d.Steepest100Pct, d.Steepest100AtM, d.Steepest100ErrPct = t.steepest(s, 100, d.MeanDowngradeErrPct)
	d.Steepest500Pct, d.Steepest500AtM, d.Steepest500ErrPct = t.steepest(s, 500, d.MeanDowngradeErrPct)
	d.Steepest1000Pct, d.Steepest1000AtM, d.Steepest1000ErrPct = t.steepest(s, 1000, d.MeanDowngradeErrPct)
	d.SteepParts, d.PossibleSteepM = t.steepWithin(s, o)
	d.Benches = t.benches(s, o)
	d.InterpolatedM = t.p.InterpolatedM(d.StartM, d.EndM)
	d.TightestRadiusM, d.TightestRadiusAtM = t.tightest(d.StartM, d.EndM)
	d.Flags = []string{}
	t.flag(d, s, o)
}

// tightest returns the least curve radius between two stations and where it is.
func (t *track) tightest(aM, bM float64) (radiusM, atM *float64) {
	best, at := math.Inf(1), 0.0
	lo, hi := min(aM, bM), max(aM, bM)
	first, last := t.p.IndicesBetween(lo, hi)
	for i := first; i <= last; i++ {
		if s := t.p.StationM(i); s >= lo && s <= hi && t.p.RadiusM[i] < best {
			best, at = t.p.RadiusM[i], s
		}
	}
	if best > straightM {
		return nil, nil
	}
	return &best, &at
}

// flag adds the flags that a reader must know before trusting the figures.
func (t *track) flag(d *routes.Descent, s span, o Options) {
	if math.Abs(d.MeanDowngradePct-o.MinMeanPct) < d.MeanDowngradeErrPct ||
		math.Abs(d.LengthM-o.MinLengthM) < math.Hypot(d.StartErrM, d.EndErrM) {
		d.Flags = append(d.Flags, routes.FlagBorderline)
	}
	d.Flags = append(d.Flags, t.groundFlags(s, d.InterpolatedM)...)
}

// groundFlags are the flags of a stretch that say what it rests on, and whether it is cut short.
func (t *track) groundFlags(s span, interpolatedM float64) []string {
	var flags []string
	if !t.p.Reliable || t.p.IsDoubtful(t.stationM(s.from), t.stationM(s.to)) {
		flags = append(flags, routes.FlagUnreliable)
	}
	if interpolatedM > t.lengthM(s)/4 {
		flags = append(flags, routes.FlagInterpolated)
	}
	if s.from == 0 || s.to == len(t.heightM)-1 {
		flags = append(flags, routes.FlagCutByEnd)
	}
	return flags
}
