package descent

import (
	"math"

	"gradeline/routes"
)

// straightM is the radius above which a road counts as straight.
const straightM = 5000

// measure describes a stretch, found against levelPct, as a descent.
func (t *track) measure(s span, o Options, levelPct float64) routes.Descent {
	d := routes.Descent{
		Direction:        t.dir,
		StartM:           t.stationM(s.from),
		EndM:             t.stationM(s.to),
		LengthM:          t.lengthM(s),
		DropM:            t.dropM(s),
		MeanDowngradePct: t.meanPct(s),
		CrestElevationM:  t.heightM[s.from],
		FootElevationM:   t.heightM[s.to],
		Benches:          t.benches(s, o),
		Flags:            []string{},
	}
	crest, foot := t.p.PointAt(d.StartM), t.p.PointAt(d.EndM)
	d.CrestLonDeg, d.CrestLatDeg, d.FootLonDeg, d.FootLatDeg = crest[0], crest[1], foot[0], foot[1]
	d.Steepest100Pct, d.Steepest100AtM = t.steepest(s, 100)
	d.Steepest500Pct, d.Steepest500AtM = t.steepest(s, 500)
	d.Steepest1000Pct, d.Steepest1000AtM = t.steepest(s, 1000)
	d.InterpolatedM = t.p.InterpolatedM(d.StartM, d.EndM)
	var crestPct, footPct float64
	d.StartErrM, crestPct = t.endBound(s, false, levelPct)
	d.EndErrM, footPct = t.endBound(s, true, levelPct)
	d.MeanDowngradeErrPct = math.Hypot(t.p.MeanErrPct(d.StartM, d.EndM), math.Hypot(crestPct, footPct))
	d.TightestRadiusM, d.TightestRadiusAtM = t.tightest(d.StartM, d.EndM)
	t.flag(&d, s, o)
	return d
}

// steepest returns the greatest mean downgrade over a window within s, per
// cent, and the station where it starts in travel.
func (t *track) steepest(s span, windowM float64) (downgradePct, startM float64) {
	w := windowM / t.stepM
	if float64(s.to-s.from) <= w {
		return t.meanPct(s), t.stationM(s.from)
	}
	best, at := math.Inf(-1), s.from
	whole := int(w)
	part := w - float64(whole)
	for i := s.from; i+whole <= s.to; i++ {
		end := t.heightM[i+whole]
		if part > 1e-9 {
			if i+whole+1 > s.to {
				break
			}
			end += part * (t.heightM[i+whole+1] - end)
		}
		if g := 100 * (t.heightM[i] - end) / windowM; g > best {
			best, at = g, i
		}
	}
	return best, t.stationM(at)
}

// tightest returns the least curve radius between two stations and where it is.
func (t *track) tightest(aM, bM float64) (radiusM, atM *float64) {
	best, at := math.Inf(1), 0.0
	lo, hi := math.Min(aM, bM), math.Max(aM, bM)
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

// flag says what a reader must know before trusting the figures.
func (t *track) flag(d *routes.Descent, s span, o Options) {
	if math.Abs(d.MeanDowngradePct-o.MinMeanPct) < d.MeanDowngradeErrPct ||
		math.Abs(d.LengthM-o.MinLengthM) < math.Hypot(d.StartErrM, d.EndErrM) {
		d.Flags = append(d.Flags, routes.FlagBorderline)
	}
	if !t.p.Reliable || t.p.IsDoubtful(d.StartM, d.EndM) {
		d.Flags = append(d.Flags, routes.FlagUnreliable)
	}
	if d.InterpolatedM > d.LengthM/4 {
		d.Flags = append(d.Flags, routes.FlagInterpolated)
	}
	if s.from == 0 || s.to == len(t.heightM)-1 {
		d.Flags = append(d.Flags, routes.FlagCutByEnd)
	}
}
