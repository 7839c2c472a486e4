package signs

import (
	"math"

	"gradeline/catalog/vehicle"

	"github.com/paulmach/orb"
)

// bend is a stretch of the line with an advisory speed below the approach speed.
type bend struct {
	at        span // metres past the crest
	radiusM   float64
	speedMPS  float64
	curves    int  // how many were joined
	opposite  bool // some of them turn the other way
	turnsLeft bool // the first of them, in travel
}

// AdvisoryMPS is the highest multiple of the rule's step at which a curve needs no more than the
// lateral acceleration that the rule allows at that speed, v² ≤ f·g·R, without superelevation; 0
// where even one step is too fast.
func (c CurveRule) AdvisoryMPS(radiusM float64) float64 {
	best := 0.0
	for k := 1; k <= 400; k++ {
		v := float64(k) * c.StepMPS
		f := 0.0
		for _, l := range c.Lateral {
			if f = l.GravityShare; v <= l.UpToMPS+sameSpeedMPS {
				break
			}
		}
		if v*v > f*vehicle.GravityMPS2*radiusM {
			break
		}
		best = v
	}
	return best
}

// bends finds the curves of the descent whose advisory speed is under the
// approach speed by at least what the rule says, those nearer than its gap as one.
func (t *travel) bends(rs *RuleSet, approachMPS float64) []bend {
	var out []bend
	open, sense := false, false // inside a curve, and it turns left
	for i := range t.heightM {
		x := float64(i) * t.stepM
		r := t.radiusM(x)
		v := rs.Curve.AdvisoryMPS(r)
		if math.IsInf(r, 1) || approachMPS-v < rs.Curve.UnderByMPS-1e-9 {
			open = false
			continue
		}
		left := t.turnsLeft(x)
		n := len(out) - 1
		switch {
		case open && left == sense: // the same curve continues
		case n >= 0 && x-out[n].at.toM < rs.Curve.GapM:
			out[n].curves++
			out[n].opposite = out[n].opposite || out[n].turnsLeft != left
		default:
			out = append(out, bend{at: span{x, x}, radiusM: r, speedMPS: v, curves: 1, turnsLeft: left})
			n++
		}
		open, sense = true, left
		b := &out[n]
		b.at.toM = x
		if r < b.radiusM {
			b.radiusM, b.speedMPS = r, v
		}
	}
	return out
}

// radiusM is the line's radius at x, +Inf where it is straight or not known.
func (t *travel) radiusM(xM float64) float64 {
	k := int(math.Round(t.p.IndexFromStationM(t.stationM(xM))))
	if k < 0 || k >= len(t.p.RadiusM) || !(t.p.RadiusM[k] > 0) {
		return math.Inf(1)
	}
	return t.p.RadiusM[k]
}

// turnsLeft reports the sense of the turn in travel around x.
func (t *travel) turnsLeft(xM float64) bool {
	const armM = 20
	arm := math.Max(armM, t.p.StepM)
	at := t.stationM(xM)
	p := t.planM(at, at-t.sgn()*arm, at, at+t.sgn()*arm)
	ax, ay := p[1][0]-p[0][0], p[1][1]-p[0][1]
	bx, by := p[2][0]-p[1][0], p[2][1]-p[1][1]
	return ax*by-ay*bx > 0
}

// planM puts places of the line on a local plane, metres east and north of the
// place at originM. Good to a few parts in 10⁴ over a kilometre.
func (t *travel) planM(originM float64, stationsM ...float64) []orb.Point {
	o := t.p.PointAt(originM)
	out := make([]orb.Point, len(stationsM))
	for i, s := range stationsM {
		out[i] = planM(o, t.p.PointAt(s))
	}
	return out
}

// planM is p on the plane that touches the ellipsoid at o: WGS 84 (NIMA TR8350.2,
// from memory), radii of curvature in the meridian and the prime vertical.
func planM(o, p orb.Point) orb.Point {
	east, north := planScale(o)
	return orb.Point{math.Remainder(p[0]-o[0], 360) * east, (p[1] - o[1]) * north}
}

// lonLatFromPlanM is the place at a distance east and north of another.
func lonLatFromPlanM(o orb.Point, eastM, northM float64) (lonDeg, latDeg float64) {
	east, north := planScale(o)
	return math.Remainder(o[0]+eastM/east, 360), o[1] + northM/north
}

// planScale is the length of a degree in metres to the east and to the north.
func planScale(o orb.Point) (eastM, northM float64) {
	const a, e2 = 6378137.0, 0.00669437999014
	phi := o[1] * math.Pi / 180
	w := math.Sqrt(1 - e2*math.Sin(phi)*math.Sin(phi))
	n, m := a/w, a*(1-e2)/(w*w*w)
	return math.Pi / 180 * n * math.Cos(phi), math.Pi / 180 * m
}

// variant names the sign for a bend.
func (b bend) variant(rule CurveRule) string {
	turn := rule.TurnUpToMPS > 0 && b.speedMPS <= rule.TurnUpToMPS+sameSpeedMPS
	switch {
	case b.curves >= 3 || b.curves == 2 && !b.opposite:
		return "winding"
	case b.curves == 2 && turn:
		return "reverse-turn"
	case b.curves == 2:
		return "reverse-curve"
	case turn:
		return "turn"
	}
	return "curve"
}

// curveSign finds the sign for a variant, or the most similar one of the set.
func (rs *RuleSet) curveSign(variant string) (SignType, bool) {
	kin := map[string][]string{
		"turn": {"turn", "curve"}, "curve": {"curve"}, "winding": {"winding", "reverse-curve", "curve"},
		"reverse-turn": {"reverse-turn", "reverse-curve", "winding", "curve"}, "reverse-curve": {"reverse-curve", "winding", "curve"},
	}
	for _, v := range kin[variant] {
		for _, s := range rs.Signs {
			if s.Role == RoleCurve && s.Variant == v {
				return s, true
			}
		}
	}
	return SignType{}, false
}

// visible is the longest distance up to farM from which a sign at the roadside is visible: the
// straight line of sight must stay within clearM of the road.
func (t *travel) visible(atM, farM, clearM float64) float64 {
	const parts = 24
	seen := 0.0
	for k := 1; k <= parts; k++ {
		d := farM * float64(k) / parts
		from := atM - t.sgn()*d
		if !t.onLine(from) {
			return farM // the line before it is unknown
		}
		var stations []float64
		for i := 0; i <= k; i++ {
			stations = append(stations, from+t.sgn()*d*float64(i)/float64(k))
		}
		pts := t.planM(atM, stations...)
		a, b := pts[0], pts[len(pts)-1]
		l := math.Hypot(b[0]-a[0], b[1]-a[1])
		for _, p := range pts {
			if l > 0 && math.Abs((b[0]-a[0])*(p[1]-a[1])-(b[1]-a[1])*(p[0]-a[0]))/l > clearM {
				return seen
			}
		}
		seen = d
	}
	return seen
}
