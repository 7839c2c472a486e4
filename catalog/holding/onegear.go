package holding

import (
	"math"

	"gradeline/catalog"
)

// oneGearUp describes what happens one gear higher: the truck enters at the advised speed with the
// retarder at full power and runs down the hill.
func (p *problem) oneGearUp(gear int, v float64) catalog.GearUp {
	out := catalog.GearUp{Gear: gear + 1, GearName: p.truck.GearName(gear + 1), SpeedMPS: v}
	if out.Gear > p.truck.GearCount() {
		return catalog.GearUp{Gear: gear, GearName: p.truck.GearName(gear), Outcome: catalog.GearUpNone, SpeedMPS: v}
	}
	if out.EngineRPM = p.truck.RPMFromSpeed(out.Gear, v); out.EngineRPM < p.truck.EngineMinRPM {
		out.Outcome = catalog.GearUpTooSlow
		return out
	}
	fast, at, passed := p.runDown(out.Gear, v)
	if passed {
		out.Outcome, out.SpeedMPS, out.EngineRPM, out.BelowCrestM = catalog.GearUpOverspeed, fast, p.truck.EngineMaxRPM, at
		return out
	}
	if fast > v+0.5*p.units.SpeedUnitMPS() {
		out.Outcome, out.SpeedMPS, out.EngineRPM, out.BelowCrestM = catalog.GearUpGains, fast, p.truck.RPMFromSpeed(out.Gear, fast), at
		return out
	}
	out.Outcome, out.RetarderUsePct = catalog.GearUpReserve, math.Ceil(100*p.mostUse(out.Gear, v)-1e-9)
	switch {
	case out.RetarderUsePct > 100:
		out.Outcome = catalog.GearUpTooSteep
	case out.RetarderUsePct <= 100*(1-p.reserve):
		out.Outcome = catalog.GearUpHolds
	}
	return out
}

// mostUse is the highest demand of any span as a share of the retarder's power: over WindowM with
// the bound of its grade, or over a pitch as recovered; 0 where the truck rolls freely.
func (p *problem) mostUse(gear int, speedMPS float64) float64 {
	most := max(0, p.worst(gear, speedMPS, p.massKg).useShare)
	w, air := p.wheelPower(gear, speedMPS), p.airflowAt(speedMPS)
	for i := range p.short {
		s := &p.short[i]
		d := (p.massKg*s.pullMPS2 - air.dragN(s)) * speedMPS
		if have := w.AtW(s.engineShare); d > 0 {
			most = max(most, d/have)
		}
	}
	return most
}

// runDown rolls the truck down the hill in a gear from an entry speed, with the
// retarder governed to that speed, up to its full power. It returns the highest speed,
// where it was reached, and whether the governed engine speed was passed there.
func (p *problem) runDown(gear int, v0 float64) (fastMPS, atM float64, passed bool) {
	pieces, dx := p.slope.runPieces()
	most := p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)
	v2, top := v0*v0, v0
	for i := range pieces {
		f := pieces[i].force(p.v.gradePct, p.truck)
		v := math.Sqrt(v2)
		have := p.wheelPower(gear, v).AtW(f.engineShare) / v
		net := f.pullMPS2 - p.airflowAt(v).dragN(&f)/p.massKg
		need := max(0, net+(v2-v0*v0)/(2*dx)) // the deceleration that returns it to v0 in this step
		net -= min(have/p.massKg, need)
		v2 = max(0.25*v0*v0, v2+2*net*dx)
		if v := math.Sqrt(v2); v > top {
			top, atM = v, float64(i+1)*dx
			if v > most*(1+1e-9) {
				return most, atM, true
			}
		}
	}
	return top, atM, false
}

// gears lists what each gear can do, lowest first.
func (p *problem) gears() []catalog.GearOutcome {
	out := make([]catalog.GearOutcome, 0, p.truck.GearCount())
	most := p.wholeUnder(p.massKg)
	for g := 1; g <= p.truck.GearCount(); g++ {
		o := catalog.GearOutcome{Gear: g, GearName: p.truck.GearName(g), Ratio: p.truck.GearRatios[g-1]}
		slides := false
		lowest := p.truck.SpeedFromRPM(g, p.truck.EngineMinRPM)
		governed := p.truck.SpeedFromRPM(g, p.truck.EngineMaxRPM)
		for u := min(most, p.units.WholeSpeed(governed)); u >= 1; u-- {
			if p.speed(u) < lowest*(1-1e-9) {
				break
			}
			if p.holdsAt(u, g) {
				if _, grips := p.choose(g, u); grips {
					o.Holds, o.SpeedMPS = true, p.speed(u)
					break
				}
				slides = true
			}
		}
		at := p.worst(g, min(governed, p.speed(most)), p.massKg).at
		o.StationM = p.hill.RouteStationM(at.distanceM)
		switch {
		case o.Holds:
			o.Why = "holds"
			if p.speed(most) >= o.SpeedMPS+p.units.SpeedUnitMPS() {
				o.Why = "holds up to its governed speed"
				if o.SpeedMPS+p.units.SpeedUnitMPS() <= governed {
					o.Why = "holds up to the retarder's power"
				}
			}
		case slides:
			o.Why = "the retarded axles don't grip"
		case lowest > p.speed(most):
			o.Why = "its lowest engine speed is above the speed that is otherwise the limit"
		default:
			o.Why = "the retarder's power is not enough"
		}
		out = append(out, o)
	}
	return out
}

// ChangeHalfRetarder names the change of the sensitivity table under which a practice grade must
// still hold.
const ChangeHalfRetarder = "half the retarder"

// sensitivity is the answer for the same descent with one thing changed.
func (p *problem) sensitivity() []catalog.Sensitivity {
	cases := []struct {
		name string
		v    variant
	}{
		{"5 % lighter", variant{massShare: 0.95}},
		{"5 % heavier", variant{massShare: 1.05}},
		{"one point steeper", variant{gradePct: 1}},
		{ChangeHalfRetarder, variant{retarderShare: 0.5}},
		{p.weakBrakesWords(), variant{brakeShare: 0.8}},
	}
	out := make([]catalog.Sensitivity, 0, len(cases)+1)
	if p.hasBound() {
		cases = append(cases, struct {
			name string
			v    variant
		}{"the grade as recovered, without its bound", variant{asRecovered: true}})
	}
	for _, c := range cases {
		q := p.with(c.v)
		whole, at := q.best()
		out = append(out, catalog.Sensitivity{Change: c.name, Holds: at.gear > 0, Gear: at.gear, GearName: p.truck.GearName(at.gear), SpeedMPS: p.speed(whole)})
	}
	return out
}

// weakBrakesWords names the loss of a fifth of the service brakes: discs adjust themselves.
func (p *problem) weakBrakesWords() string {
	if p.truck.ServiceBrakes.IsDisc() {
		return "two service brakes in ten without effect"
	}
	return "two service brakes in ten out of adjustment"
}

// hasBound reports whether the hill's grade carries an error bound.
func (p *problem) hasBound() bool {
	for _, w := range p.slope.lead {
		for i := range w {
			if w[i].errPct > 0 {
				return true
			}
		}
	}
	return false
}

func roundTo(v, step float64) float64 { return math.Round(v/step) * step }
