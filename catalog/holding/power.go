package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// wheelPower is the retarders' top power at the wheels in this variant.
func (p *problem) wheelPower(gear int, speedMPS float64) vehicle.WheelPower {
	return p.stagePower(p.topStage, gear, speedMPS)
}

// stagePower is the retarders' power at the wheels at a stage in this variant.
func (p *problem) stagePower(stage, gear int, speedMPS float64) vehicle.WheelPower {
	return charging(p.scaled(p.forces.stages[stage].WheelPower(gear, speedMPS, p.slope.air)), p.massKg <= p.chargeKg)
}

// scaled is a power at the wheels in this variant.
func (p *problem) scaled(w vehicle.WheelPower) vehicle.WheelPower {
	if p.v.retarderShare > 0 {
		w.EngineW *= p.v.retarderShare
		w.DrivelineW *= p.v.retarderShare
		w.RecuperationW *= p.v.retarderShare
	}
	return w
}

// delayS is the time from setting a stage until it works (common practice, no source). In that time
// the truck runs freely and must stay below the governed speed.
const delayS = 1.0

// heaviestKg is the heaviest mass that a gear holds at a speed on every stretch: the
// least over them of (power/speed + drag)/pull, and of the mass that stays below the
// governed speed while a stage begins to work: drag·v²/(pull − (governed − v)/delay). 0
// where the engine is out of its band; +Inf where no stretch pulls.
func (p *problem) heaviestKg(gear int, speedMPS float64) float64 {
	return p.heaviestFromKg(gear, speedMPS, p.truck.WheelPower(p.topStage, gear, speedMPS, p.slope.air), 0)
}

// isCarried reports whether a gear holds the problem's mass at a whole speed; it is not cached.
func (p *problem) isCarried(gear, whole int) bool {
	now := p.forces.powerAt(p.topStage, gear, whole)
	return p.heaviestFromKg(gear, p.speed(whole), now, p.massKg) >= p.massKg
}

// heaviestFromKg is heaviestKg for the power of the unchanged retarder at the speed. Once that is
// known to be below leastKg, it returns some mass below leastKg that nothing heavier than is held.
func (p *problem) heaviestFromKg(gear int, speedMPS float64, now vehicle.WheelPower, leastKg float64) float64 {
	if !p.truck.HasEngineSpeed(gear, speedMPS) {
		return 0
	}
	return p.heaviestInBandKg(gear, speedMPS, now, leastKg)
}

// heaviestInBandKg is heaviestFromKg for an engine speed within its band.
func (p *problem) heaviestInBandKg(gear int, speedMPS float64, now vehicle.WheelPower, leastKg float64) float64 {
	now = p.scaled(now)
	if math.IsInf(p.chargeKg, 1) {
		return p.heaviestByPowerKg(gear, speedMPS, now, true, leastKg)
	}
	return p.whileCharging(func(isCharging bool) float64 {
		return p.heaviestByPowerKg(gear, speedMPS, charging(now, isCharging), isCharging, leastKg)
	})
}

// heaviestByPowerKg is heaviestFromKg with or without recuperation.
func (p *problem) heaviestByPowerKg(gear int, speedMPS float64, now vehicle.WheelPower, isCharging bool, leastKg float64) float64 {
	top := p.topStage
	in := p.inHandOf(top, gear, speedMPS).charging(isCharging)
	kg := p.carriedKg(now, in, speedMPS, 1-p.reserve, leastKg)
	if kg < leastKg {
		return kg
	}
	air := p.airflowAt(speedMPS)
	gain := max(0, p.forces.governed[gear-1]-speedMPS)/delayS - p.pushMPS2(speedMPS)
	if p.mostPull > gain {
		for _, list := range [][]stretch{p.long, p.short, p.sudden} {
			for i := range list {
				if s := &list[i]; s.pullMPS2 > gain {
					kg = min(kg, s.dragKgPerM*air.v2/(s.pullMPS2-gain))
				}
			}
		}
		if kg < leastKg {
			return kg
		}
	}
	// When a stage begins to work, the retarder at full power must still hold: at its sustained
	// power a driveline retarder has less torque the faster it turns.
	late := p.lateMPS(gear, speedMPS)
	then := charging(p.scaled(p.forces.stages[top].WheelPower(gear, late, p.slope.air)), isCharging)
	return min(kg, p.carriedKg(then, in, late, 1, leastKg))
}

// carriedKg is the heaviest mass that a power at the wheels holds at a speed everywhere:
// the kept share of it over parts as recovered, all of it over pitches, and at the steep
// end of each window's bound the share that windowShare leaves, where the truck may use
// its margin of speed. +Inf where no stretch pulls. Below leastKg it is not exact: see
// heaviestFromKg.
func (p *problem) carriedKg(w vehicle.WheelPower, in hand, v, keep, leastKg float64) float64 {
	kg := math.Inf(1)
	air := p.airflowAt(v)
	atBound := p.windowShare(keep)
	over := func(s *stretch) float64 {
		haveN := atBound * in.forceN(s.engineShare)
		if s.perM == 0 {
			haveN = keep * w.AtW(s.engineShare) / v
		}
		if pull := s.pullMPS2 - in.gainMPS2*s.perM; pull > 0 {
			return (haveN + s.dragKgPerM*air.v2) / pull
		}
		return math.Inf(1)
	}
	if p.hardest < len(p.long) { // what was the hardest for the last gear and speed mostly is again
		if kg = over(&p.long[p.hardest]); kg < leastKg {
			return kg
		}
	}
	for i := range p.long {
		if k := over(&p.long[i]); k < kg {
			if kg, p.hardest = k, i; kg < leastKg {
				return kg
			}
		}
	}
	for i := range p.short {
		if s := &p.short[i]; s.pullMPS2 > 0 {
			if kg = min(kg, (w.AtW(s.engineShare)/v+s.dragKgPerM*air.v2)/s.pullMPS2); kg < leastKg {
				return kg
			}
		}
	}
	if air.pushN > 0 {
		return min(kg, HeaviestSearchedKg) * air.keptShare(min(keep*w.AtW(p.leastEngineShare)/v, p.leastAtBoundN(in, atBound)))
	}
	return kg
}

// leastAtBoundN is the least force that may be used at the steep end of a window's bound;
// +Inf where no window asks for it.
func (p *problem) leastAtBoundN(in hand, share float64) float64 {
	if !p.hasWindows {
		return math.Inf(1)
	}
	return share * in.forceN(p.leastEngineShare)
}

// windowShare is the share of the retarder that may be used at the steep end of a window's
// bound, where the share keep may be used on the road as recovered: half of the reserve is for
// the grade's error, the other half stays for a retarder that is weaker than its curve. On
// coarse cells, where short steep parts may be too gentle by more than their bounds, the
// complete reserve stays.
func (p *problem) windowShare(keep float64) float64 {
	if p.hill.CellM > coarseCellM {
		return keep
	}
	return 1 - reserveAtBound*(1-keep)
}

// reserveAtBound is the part of the reserve that is never counted on (no source: a bound,
// checked by simulation).
const reserveAtBound = 0.5

// coarseCellM is the cell size above which the complete reserve is kept at the bound: between 10 and
// 30 m, for which drawn roads were surveyed.
const coarseCellM = 20.0

// seenLateS is an additional delay where the retarder's power falls with the speed: a driver is not
// that exact, and beyond that limit no retarder slows the truck again.
const seenLateS = 0.1

// lateMPS is the highest speed of the truck when a stage begins to work, without air resistance:
// with the gain of that time, up to the governed speed.
func (p *problem) lateMPS(gear int, speedMPS float64) float64 {
	governed := p.forces.governed[gear-1]
	return max(speedMPS, min(governed, speedMPS+(p.mostPull+p.pushMPS2(speedMPS))*(delayS+seenLateS)))
}

// mostPullMPS2 is the greatest pull of lists of stretches, at least 0.
func mostPullMPS2(lists ...[]stretch) float64 {
	most := 0.0
	for _, list := range lists {
		for i := range list {
			most = max(most, list[i].pullMPS2)
		}
	}
	return most
}

// hand is a truck's margin in a gear at a speed.
type hand struct {
	engineN, drivelineN, recuperationN float64 // the least forces at the wheels up to the governed speed
	gainMPS2                           float64 // ½·(u² − v²), v where a stage that is set begins to work, u governed
}

// forceN is the force where altitude leaves engineShare of the engine brake.
func (h hand) forceN(engineShare float64) float64 {
	return h.engineN*engineShare + h.drivelineN + h.recuperationN
}

// charging is the margin while the battery can store energy, and after that.
func (h hand) charging(isCharging bool) hand {
	if !isCharging {
		h.recuperationN = 0
	}
	return h
}

// inHand computes the margin of a stage at the problem's mass.
func (p *problem) inHand(stage, gear int, speedMPS float64) hand {
	return p.inHandOf(stage, gear, speedMPS).charging(p.massKg <= p.chargeKg)
}

// inHandOf is inHand with recuperation; it is empty where no window asks for it.
func (p *problem) inHandOf(stage, gear int, speedMPS float64) hand {
	if !p.hasWindows {
		return hand{}
	}
	governed := p.forces.governed[gear-1]
	late := p.lateMPS(gear, speedMPS)
	out := p.forces.leastFrom(stage, gear, speedMPS)
	if share := p.v.retarderShare; share > 0 {
		out.engineN, out.drivelineN, out.recuperationN = out.engineN*share, out.drivelineN*share, out.recuperationN*share
	}
	out.gainMPS2 = max(0, governed*governed-late*late) / 2
	return out
}

// gainMPS is the gain in speed of a truck of a mass on the hardest stretch while a stage begins to
// work.
func (p *problem) gainMPS(speedMPS, massKg float64) float64 {
	most, air := 0.0, p.airflowAt(speedMPS)
	for _, list := range [][]stretch{p.long, p.short, p.sudden} {
		for i := range list {
			most = max(most, list[i].pullMPS2-air.dragN(&list[i])/massKg)
		}
	}
	return most * delayS
}
