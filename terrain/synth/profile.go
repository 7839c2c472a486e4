package synth

import "math"

// kTable lists the least K of vertical curves, metres of length per point of
// grade change, by design speed in km/h. Source: stopping-sight tables of the
// AASHTO Green Book, metric (from memory).
var kTable = map[int]struct{ crest, sag float64 }{
	40: {4, 9}, 50: {7, 13}, 60: {11, 18}, 70: {17, 23}, 80: {26, 30}, 90: {39, 38}, 100: {52, 45}, 110: {74, 55},
}

// profile is a vertical alignment: grades in per cent between PVIs, joined by
// parabolas centred on them.
type profile struct {
	pviM   []float64 // stations; the first at or before 0, the last at or past the end
	elevM  []float64 // of the tangents' intersection
	gradeP []float64 // of the tangent that starts at each PVI
	curveM []float64 // length of the parabola at each PVI, 0 at the ends
	isPart []bool    // by tangent: whether it defines the road's kind; nil on ordinary roads
}

// tangent is a grade over a length, as a designer lists them.
type tangent struct{ lengthM, gradePct float64 }

func drawProfile(d dice, p params, lengthM float64) profile {
	var ts []tangent
	var isPart []bool
	if p.kind != OrdinaryRoad {
		ts, isPart = drawKindTangents(d, p, lengthM)
	}
	for at := 0.0; at < lengthM && p.kind == OrdinaryRoad; {
		regime := drawRegime(d, p)
		for _, t := range regime {
			ts = append(ts, t)
			at += t.lengthM
		}
	}
	k := kTable[int(p.speedKMH/10+0.5)*10]
	ks := make([]float64, len(ts))
	for i := 1; i < len(ts); i++ {
		least := k.sag
		if ts[i].gradePct < ts[i-1].gradePct {
			least = k.crest
		}
		ks[i] = least * d.between(1, 2.5)
	}
	q := newProfile(d.between(200, 1500), ts, ks)
	q.isPart = isPart
	return q
}

// drawRegime draws the tangents of one climb, descent or rolling stretch.
func drawRegime(d dice, p params) []tangent {
	gmax := p.maxGradePct
	kind := d.Float64()
	var length, sign, mean float64
	if kind < 0.7 {
		sign = math.Copysign(1, kind-0.35)
		length = d.logNormal(1800, 0.8, 600, 12e3)
		mean = d.between(2.5, 0.95*gmax)
	} else {
		length = d.logNormal(1800, 0.6, 700, 8e3)
	}
	var ts []tangent
	for at := 0.0; at < length; {
		t := tangent{lengthM: d.logNormal(380, 0.75, 100, 2000)}
		switch {
		case sign == 0:
			t.gradePct = clamp(2*d.NormFloat64(), -4.5, 4.5)
		case d.Float64() < 0.08:
			t.gradePct = sign * d.between(-2, 1.5) // a bench
		default:
			t.gradePct = sign * clamp(mean+0.9*d.NormFloat64(), 0.2, gmax)
			if d.Float64() < 0.08 {
				t.lengthM = math.Min(12e3, 6*t.lengthM)
			}
		}
		if p.flat {
			t.gradePct = clamp(t.gradePct, -1, 1)
		}
		ts = append(ts, t)
		at += t.lengthM
	}
	return ts
}

// newProfile joins tangents by parabolas of length K·A, and lengthens a tangent that is too short
// for its curves; ks[i] is the K between tangents i-1 and i.
func newProfile(startElevM float64, ts []tangent, ks []float64) profile {
	p := profile{pviM: []float64{0}, elevM: []float64{startElevM}, curveM: []float64{0}}
	half := 0.0
	for i, t := range ts {
		next := 0.0
		if i+1 < len(ts) {
			next = ks[i+1] * math.Abs(ts[i+1].gradePct-t.gradePct) / 2
		}
		l := math.Max(t.lengthM, half+next)
		p.gradeP = append(p.gradeP, t.gradePct)
		p.pviM = append(p.pviM, p.pviM[i]+l)
		p.elevM = append(p.elevM, p.elevM[i]+l*t.gradePct/100)
		p.curveM = append(p.curveM, 2*next)
		half = next
	}
	return p
}

// at returns elevation in metres and grade in per cent at a station.
func (p *profile) heightAt(s float64) (elevM, gradePct float64) {
	lo, hi := 0, len(p.gradeP)
	for hi-lo > 1 { // last PVI at or before s
		mid := (lo + hi) / 2
		if p.pviM[mid] <= s {
			lo = mid
		} else {
			hi = mid
		}
	}
	elevM = p.elevM[lo] + (s-p.pviM[lo])*p.gradeP[lo]/100
	gradePct = p.gradeP[lo]
	if h := p.curveM[lo] / 2; lo > 0 && s < p.pviM[lo]+h {
		a := (p.gradeP[lo] - p.gradeP[lo-1]) / p.curveM[lo]
		u := p.pviM[lo] + h - s
		return elevM + a*u*u/200, gradePct - a*u
	}
	if h := p.curveM[lo+1] / 2; lo+1 < len(p.gradeP) && s > p.pviM[lo+1]-h {
		a := (p.gradeP[lo+1] - p.gradeP[lo]) / p.curveM[lo+1]
		u := s - (p.pviM[lo+1] - h)
		return elevM + a*u*u/200, gradePct + a*u
	}
	return elevM, gradePct
}

// setHeights sets the heights of the alignment's points from the profile.
func (a *alignment) setHeights() {
	a.z = make([]float64, len(a.s))
	for i, s := range a.s {
		a.z[i], _ = a.profile.heightAt(s)
	}
}
