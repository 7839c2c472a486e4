package signs

import (
	"math"

	"gradeline/catalog/vehicle"
)

// Distance is an advance placement distance and how it was found.
type Distance struct {
	LengthM float64
	How     string // "table", "formula", "band", "floor" or "no distance suggested"
}

// RawDistanceM is the placement distance before any rounding or floor, by the
// formula of MUTCD table 2C-3, notes 1, 3 and 4 (second-hand):
// to a lower speed, d = t·v + (v² − u²)/(2a) − legibility; to a stop,
// d = t·v + v²/(2·a_stop), with no legibility taken off.
//
// Symbols: v approachMPS, u advisedMPS, t ReactionS, a DecelMPS2, a_stop
// StopMPS2. downgradePct under the approach takes g·G off the deceleration.
// It is +Inf where the grade leaves no deceleration, NaN for kind "band".
func (p Placing) RawDistanceM(approachMPS, advisedMPS, downgradePct float64) float64 {
	if p.Kind == "band" {
		return math.NaN()
	}
	v, u, a, legible := approachMPS, advisedMPS, p.DecelMPS2, p.LegibleM
	if advisedMPS == 0 {
		a, legible = p.StopMPS2, 0
	}
	a -= vehicle.GravityMPS2 * downgradePct / 100
	if a <= 0 {
		return math.Inf(1)
	}
	return p.ReactionS*v + math.Max(0, v*v-u*u)/(2*a) - legible
}

// Advance returns the distance of a sign upstream of its condition. A speed pair
// that the table holds gives the table's own cell; between and beyond the cells,
// and where the approach runs downhill by downgradePct, the formula, rounded up
// to the table's step and never under the floor. Bands go in proportion.
func (p Placing) Advance(approachMPS, advisedMPS, downgradePct float64) Distance {
	if p.Kind == "band" {
		return p.band(approachMPS)
	}
	if downgradePct <= 0 {
		if d, ok := p.cell(approachMPS, advisedMPS); ok {
			if d == NoDistance {
				return Distance{p.FloorM, "no distance suggested"}
			}
			return Distance{d, "table"}
		}
	}
	d := p.RawDistanceM(approachMPS, advisedMPS, math.Max(0, downgradePct))
	d = math.Ceil(d/p.StepM-1e-9) * p.StepM
	if d <= p.FloorM {
		return Distance{p.FloorM, "floor"}
	}
	return Distance{d, "formula"}
}

// sameSpeed is wide enough for 55 mph typed in km/h to two decimals.
const sameSpeedMPS = 0.005

func (p Placing) cell(approachMPS, advisedMPS float64) (float64, bool) {
	for _, r := range p.Rows {
		if math.Abs(r.ApproachMPS-approachMPS) > sameSpeedMPS {
			continue
		}
		for j, d := range r.DistancesM {
			if math.Abs(p.AdvisedMPS[j]-advisedMPS) <= sameSpeedMPS {
				return d, true
			}
		}
	}
	return 0, false
}

// band interpolates within the band of speeds that holds approachMPS; above the
// last band it keeps that band's slope, since a faster approach needs more.
func (p Placing) band(approachMPS float64) Distance {
	lower := 0.0
	for i, r := range p.Rows {
		last := i == len(p.Rows)-1
		if approachMPS <= r.ApproachMPS+sameSpeedMPS || last {
			t := (approachMPS - lower) / (r.ApproachMPS - lower)
			d := r.FromM + t*(r.ToM-r.FromM)
			if d <= p.FloorM {
				return Distance{p.FloorM, "floor"}
			}
			return Distance{math.Ceil(d/p.StepM-1e-6) * p.StepM, "band"}
		}
		lower = r.ApproachMPS
	}
	return Distance{p.FloorM, "floor"}
}

// visibleM is the distance from which a sign must be seen at that approach speed.
func (rs *RuleSet) visibleM(approachMPS float64) float64 {
	if rs.Sight.DistanceM > 0 {
		return rs.Sight.DistanceM
	}
	d := 0.0
	for _, r := range rs.Placement.Rows {
		if d = r.VisibleM; approachMPS <= r.ApproachMPS+sameSpeedMPS {
			break
		}
	}
	return d
}
