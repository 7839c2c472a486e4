package holding

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// setCeilings lists the limits of speed that are independent of the retarder, and stores the
// lowest. The list is complete, including limits that don't bind.
func (p *problem) setCeilings() {
	h := p.hill
	p.ceiling = []catalog.SpeedCeiling{{
		Reason: catalog.LimitTruckSpeed, SpeedMPS: p.class.SpeedMaxMPS, StationM: h.RouteStationM(0),
		Note: "limit of this class on any road",
	}}
	if c, ok := postedCeiling(h); ok {
		p.ceiling = append(p.ceiling, c)
	}
	if c, ok := curveCeiling(h, p.class); ok {
		p.ceiling = append(p.ceiling, c)
	}
	steepest, at := 0.0, 0.0
	for _, s := range p.long {
		if s.gradePct > steepest {
			steepest, at = s.gradePct, s.distanceM
		}
	}
	if p.opt.SightM > 0 {
		p.ceiling = append(p.ceiling, catalog.SpeedCeiling{
			Reason: catalog.LimitStopping, SpeedMPS: vehicle.SightSpeedMPS(p.opt.SightM, steepest), StationM: h.RouteStationM(at),
			LengthM: p.opt.SightM, Note: fmt.Sprintf("cool service brakes stop within the sight distance of %.0f m on the steepest part", p.opt.SightM),
		})
	}
	p.capMPS = math.Inf(1)
	for _, c := range p.ceiling {
		p.capMPS = min(p.capMPS, c.SpeedMPS)
	}
}

// limits are the ceilings that can matter: those not above the class's own limit.
func (p *problem) limits() []catalog.SpeedCeiling {
	out := []catalog.SpeedCeiling{}
	for _, c := range append(append([]catalog.SpeedCeiling{}, p.ceiling...), p.stopCeiling(p.massKg)) {
		if c.SpeedMPS <= p.class.SpeedMaxMPS {
			out = append(out, c)
		}
	}
	return out
}

// postedCeiling is the lowest posted limit on the way down.
func postedCeiling(h *Hill) (catalog.SpeedCeiling, bool) {
	out := catalog.SpeedCeiling{Reason: catalog.LimitPosted, SpeedMPS: math.Inf(1)}
	a, b := h.RouteStationM(0), h.RouteStationM(h.LengthM())
	lo, hi := min(a, b), max(a, b)
	for _, l := range h.Limits {
		applies := l.Forward && h.Direction == routes.Forward || l.Backward && h.Direction == routes.Backward
		if applies && l.SpeedMPS > 0 && l.ToM > lo && l.FromM < hi && l.SpeedMPS < out.SpeedMPS {
			out.SpeedMPS = l.SpeedMPS
			out.StationM = max(l.FromM, lo)
			if h.Direction == routes.Backward {
				out.StationM = min(l.ToM, hi)
			}
			out.Note = "posted"
			if l.TruckOnly {
				out.Note = "posted for trucks"
			}
		}
	}
	return out, !math.IsInf(out.SpeedMPS, 1)
}

// curveCeiling is the speed of the tightest curve.
func curveCeiling(h *Hill, c *vehicle.Class) (catalog.SpeedCeiling, bool) {
	tightest, at := math.Inf(1), 0
	for i, r := range h.RadiusM {
		if r > 0 && r < tightest {
			tightest, at = r, i
		}
	}
	if math.IsInf(tightest, 1) {
		return catalog.SpeedCeiling{}, false
	}
	v, byRollover := vehicle.CurveSpeedMPS(tightest, c.CurveRolloverShare())
	note := "side friction of AASHTO's design tables (second-hand), superelevation ignored"
	if byRollover {
		note = "half the class's rollover threshold, superelevation ignored"
		if c.PartFullTank {
			note = "half of what a part-full tank leaves of the class's rollover threshold, superelevation ignored"
		}
	}
	return catalog.SpeedCeiling{
		Reason: catalog.LimitCurve, SpeedMPS: v, StationM: h.RouteStationM(h.StationM[at]),
		LengthM: tightest, Note: fmt.Sprintf("radius %.0f m: %s", math.Floor(tightest), note),
	}, true
}

// binding is the lowest ceiling at a mass.
func (p *problem) binding(massKg float64) catalog.SpeedCeiling {
	low := p.stopCeiling(massKg)
	for _, c := range p.ceiling {
		if c.SpeedMPS < low.SpeedMPS {
			low = c
		}
	}
	return low
}
