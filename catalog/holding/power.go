package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// wheelPower is the retarders' top power at the wheels in this variant.
func (p *problem) wheelPower(gear int, speedMPS float64) vehicle.WheelPower {
	return p.stagePower(p.truck.StageCount(), gear, speedMPS)
}

// stagePower is the retarders' power at the wheels at a stage in this variant.
func (p *problem) stagePower(stage, gear int, speedMPS float64) vehicle.WheelPower {
	return charging(p.scaled(p.truck.WheelPower(stage, gear, speedMPS, p.opt.TempC)), p.massKg <= p.chargeKg)
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

// delayS is how long a stage that is set takes to work (common practice, no source):
// in that time the truck runs freely and must stay under the governed speed.
const delayS = 1.0

// heaviestKg is the heaviest mass that a gear holds at a speed on every stretch:
// the least over them of (power/speed + drag)/pull, and of the mass that gains no
// more than is left to the governed speed while a stage begins to work:
// drag·v²/(pull − (governed − v)/delay). 0 where the engine is out of its band;
// +Inf where no stretch pulls.
func (p *problem) heaviestKg(gear int, speedMPS float64) float64 {
	if !p.truck.HasEngineSpeed(gear, speedMPS) {
		return 0
	}
	return p.whileCharging(func(isCharging bool) float64 { return p.heaviestByPowerKg(gear, speedMPS, isCharging) })
}

// heaviestByPowerKg is heaviestKg with or without recuperation.
func (p *problem) heaviestByPowerKg(gear int, speedMPS float64, isCharging bool) float64 {
	powerAt := func(v float64) vehicle.WheelPower {
		return charging(p.scaled(p.truck.WheelPower(p.truck.StageCount(), gear, v, p.opt.TempC)), isCharging)
	}
	w := powerAt(speedMPS)
	keep := 1 - p.reserve
	v2 := speedMPS * speedMPS
	gain := max(0, p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)-speedMPS) / delayS
	kg := math.Inf(1)
	consider := func(s *stretch, keep float64) {
		if s.pullMPS2 > 0 {
			kg = min(kg, (keep*w.AtW(s.engineShare)/speedMPS+s.dragKgPerM*v2)/s.pullMPS2)
		}
		if s.pullMPS2 > gain {
			kg = min(kg, s.dragKgPerM*v2/(s.pullMPS2-gain))
		}
	}
	for i := range p.long {
		consider(&p.long[i], keep)
	}
	for i := range p.short {
		consider(&p.short[i], 1)
	}
	// Where a stage begins to work the whole retarder must still hold: a driveline retarder
	// at its sustained power pushes back less the faster it turns.
	late := p.lateMPS(gear, speedMPS)
	w, v2 = powerAt(late), late*late
	speedMPS, gain = late, math.Inf(1)
	for i := range p.long {
		consider(&p.long[i], 1)
	}
	for i := range p.short {
		consider(&p.short[i], 1)
	}
	return kg
}

// lateMPS is the fastest that the truck can be when a stage begins to work, air resistance
// left out: what it gains in that time, up to the governed speed.
func (p *problem) lateMPS(gear int, speedMPS float64) float64 {
	governed := p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)
	return max(speedMPS, min(governed, speedMPS+p.mostPull*delayS))
}

// mostPullMPS2 is the greatest pull of two lists of stretches, at least 0.
func mostPullMPS2(long, short []stretch) float64 {
	most := 0.0
	for i := range long {
		most = max(most, long[i].pullMPS2)
	}
	for i := range short {
		most = max(most, short[i].pullMPS2)
	}
	return most
}

// gainMPS is what a truck of a mass gains at a speed, on the hardest stretch, while a
// stage begins to work.
func (p *problem) gainMPS(speedMPS, massKg float64) float64 {
	most := 0.0
	for _, list := range [][]stretch{p.long, p.short} {
		for _, s := range list {
			most = max(most, s.pullMPS2-s.dragKgPerM*speedMPS*speedMPS/massKg)
		}
	}
	return most * delayS
}
