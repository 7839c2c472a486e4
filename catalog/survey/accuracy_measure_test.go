package survey_test

import (
	"math"

	"gradeline/routes"
	"gradeline/routes/descent"
	"gradeline/terrain/synth"
)

// score collects what one method at one cell size does over roads.
type score struct {
	km, missingKM               float64
	gradeAll, gradeOut          []float64 // errors of 100 m mean grades, points
	truths, found, hits         int
	truthsNeutral, foundNeutral int // borderline ones that are not counted in the neutral score
	severe, severeFound         int
	severeHits, severeTrueHits  int
	falseAlarms                 int
	meanErr, lengthErr, dropErr []float64 // of matched descents: points; relative
	endErrM                     []float64
	coverMatched, coverStated   cover // of mean_downgrade_err_pct, against the matched truth and over the stated interval
	coverEnds, coverElev        cover
	elevErrM                    []float64
	unreliable                  int
	sampleS, recoverS           float64
	statedEndM, statedMeanPct   []float64
	detail                      detail
}

type cover struct{ in, all int }

func (c *cover) add(in bool) {
	c.all++
	if in {
		c.in++
	}
}

func (c *cover) merge(o cover) { c.in += o.in; c.all += o.all }

// matchIoU is the overlap at which an estimated and a true descent are one. Above
// one half it is one to one by itself, since descents of one direction are apart.
const matchIoU = 0.7

// measureRoad compares one recovered profile with the road's truth.
func measureRoad(r *synth.Road, c recovered) *score {
	p := c.profile
	s := &score{km: p.LengthM / 1000, missingKM: p.MissingM / 1000, sampleS: c.sampleS, recoverS: c.recoveredS}
	if !p.Reliable {
		s.unreliable++
	}
	// the plane's length and the geodesic one differ by less than 1e-5
	truthM := func(stationM float64) float64 {
		return r.TruthAtM(clampTo(stationM/p.LengthM*r.LengthM, r.LengthM))
	}
	s.grades(r, p, truthM, math.Max(c.cellM, 20))
	for i, z := range p.ElevationM {
		if p.State[i] == routes.Measured && !math.IsNaN(z) {
			e := math.Abs(z - truthM(p.StationM(i)))
			s.elevErrM = append(s.elevErrM, e)
			s.coverElev.add(e <= p.Bound.ElevationM)
		}
	}
	truth := truthProfile(r)
	for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
		want, got := descent.FindAll(truth, dir, descent.Options{}), descent.FindAll(p, dir, descent.Options{})
		s.descents(want.Descents, got.Descents, truthM)
		s.detail.steepParts(allSteepParts(want), allSteepParts(got), truthM)
	}
	return s
}

func clampTo(x, hi float64) float64 { return math.Max(0, math.Min(x, hi)) }

// grades compares mean grades over 100 m. A gap in the estimate counts as flat
// road, so that leaving out can't improve the figure.
func (s *score) grades(r *synth.Road, p *routes.Profile, truthM func(float64) float64, marginM float64) {
	for at := 0.0; at+100 <= p.LengthM; at += 100 {
		want := truthM(at+100) - truthM(at)
		got := p.ElevationAtM(at+100) - p.ElevationAtM(at)
		if math.IsNaN(got) {
			got = 0
		}
		s.gradeAll = append(s.gradeAll, got-want)
		outside := true
		for _, t := range r.Structures {
			outside = outside && (at+100 < t.FromM-marginM || at > t.ToM+marginM)
		}
		first, last := int(at/p.StepM), min(int((at+100)/p.StepM)+1, p.Count()-1)
		for i := first; i <= last; i++ {
			outside = outside && !math.IsNaN(p.GroundM[i])
		}
		if outside {
			s.gradeOut = append(s.gradeOut, got-want)
		}
	}
}

func ends(d routes.Descent) (lo, hi float64) {
	return math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
}

func iou(a, b routes.Descent) float64 {
	al, ah := ends(a)
	bl, bh := ends(b)
	both := math.Min(ah, bh) - math.Max(al, bl)
	if both <= 0 {
		return 0
	}
	return both / (math.Max(ah, bh) - math.Min(al, bl))
}

func isSevere(d routes.Descent) bool { return d.MeanDowngradePct >= 5 && d.LengthM >= 2000 }

// isBorderline is by the truth's or the estimate's own figures: within 0.4 points
// or 200 m above a threshold, whether it is found is chance.
func isBorderline(d routes.Descent) bool { return d.MeanDowngradePct < 4.4 || d.LengthM < 1000 }

func (s *score) descents(truths, found []routes.Descent, truthM func(float64) float64) {
	matched := make([]int, len(truths)) // index into found + 1
	used := make([]bool, len(found))
	for i, t := range truths {
		for k, f := range found {
			if !used[k] && matched[i] == 0 && iou(t, f) >= matchIoU {
				matched[i], used[k] = k+1, true
			}
		}
	}
	s.truths += len(truths)
	s.found += len(found)
	for i, t := range truths {
		if isSevere(t) {
			s.severe++
		}
		if matched[i] == 0 {
			if isBorderline(t) {
				s.truthsNeutral++
			}
			continue
		}
		s.hits++
		if isSevere(t) {
			s.severeHits++
		}
		s.matched(t, found[matched[i]-1])
	}
	for k, f := range found {
		s.detail.heights(f, truthM)
		lo, hi := ends(f)
		trueMeanPct := 100 * math.Abs(truthM(lo)-truthM(hi)) / (hi - lo)
		if f.Direction == routes.Forward == (truthM(hi) > truthM(lo)) { // it climbs in truth
			trueMeanPct = -trueMeanPct
		}
		s.coverStated.add(math.Abs(f.MeanDowngradePct-trueMeanPct) <= f.MeanDowngradeErrPct)
		if isSevere(f) {
			s.severeFound++
			if used[k] {
				s.severeTrueHits++
			}
		}
		if used[k] {
			continue
		}
		if isBorderline(f) {
			s.foundNeutral++
		}
		overlap := 0.0
		for _, t := range truths {
			tl, th := ends(t)
			overlap += math.Max(0, math.Min(hi, th)-math.Max(lo, tl))
		}
		if overlap < 0.3*(hi-lo) && trueMeanPct < 3 {
			s.falseAlarms++
		}
	}
}

func (s *score) matched(t, f routes.Descent) {
	s.meanErr = append(s.meanErr, math.Abs(f.MeanDowngradePct-t.MeanDowngradePct))
	s.lengthErr = append(s.lengthErr, math.Abs(f.LengthM-t.LengthM)/t.LengthM)
	s.dropErr = append(s.dropErr, math.Abs(f.DropM-t.DropM)/t.DropM)
	start, end := math.Abs(f.StartM-t.StartM), math.Abs(f.EndM-t.EndM)
	s.endErrM = append(s.endErrM, start, end)
	s.coverMatched.add(math.Abs(f.MeanDowngradePct-t.MeanDowngradePct) <= f.MeanDowngradeErrPct)
	s.coverEnds.add(start <= f.StartErrM)
	s.coverEnds.add(end <= f.EndErrM)
	s.statedEndM = append(s.statedEndM, f.StartErrM, f.EndErrM)
	s.statedMeanPct = append(s.statedMeanPct, f.MeanDowngradeErrPct)
	s.detail.matched(t, f)
}

// add takes another road's figures in.
func (s *score) add(o *score) {
	s.km += o.km
	s.missingKM += o.missingKM
	s.gradeAll = append(s.gradeAll, o.gradeAll...)
	s.gradeOut = append(s.gradeOut, o.gradeOut...)
	s.truths += o.truths
	s.found += o.found
	s.hits += o.hits
	s.truthsNeutral += o.truthsNeutral
	s.foundNeutral += o.foundNeutral
	s.severe += o.severe
	s.severeFound += o.severeFound
	s.severeHits += o.severeHits
	s.severeTrueHits += o.severeTrueHits
	s.falseAlarms += o.falseAlarms
	s.meanErr = append(s.meanErr, o.meanErr...)
	s.lengthErr = append(s.lengthErr, o.lengthErr...)
	s.dropErr = append(s.dropErr, o.dropErr...)
	s.endErrM = append(s.endErrM, o.endErrM...)
	s.coverMatched.merge(o.coverMatched)
	s.coverStated.merge(o.coverStated)
	s.coverEnds.merge(o.coverEnds)
	s.coverElev.merge(o.coverElev)
	s.elevErrM = append(s.elevErrM, o.elevErrM...)
	s.unreliable += o.unreliable
	s.sampleS += o.sampleS
	s.recoverS += o.recoverS
	s.statedEndM = append(s.statedEndM, o.statedEndM...)
	s.statedMeanPct = append(s.statedMeanPct, o.statedMeanPct...)
	s.detail.add(o.detail)
}
