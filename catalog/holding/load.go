package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// load is the balance of a gear at a speed.
type load struct {
	demandW, availableW float64 // at the wheels, on the stretch that comes closest to its limit; available is before the reserve
	limitShare          float64 // share of availableW that may be used there
	at                  stretch
	useShare            float64 // highest share of the retarders' power that a stretch demands; independent of the reserve
	sustained           bool
}

// worst finds the balance for a gear and a speed.
func (p *problem) worst(gear int, speedMPS, massKg float64) load {
	w := p.wheelPower(gear, speedMPS)
	out := load{useShare: math.Inf(-1), sustained: w.SustainedBound}
	in := p.inHand(p.topStage, gear, speedMPS)
	closest, air := math.Inf(-1), p.airflowAt(speedMPS)
	for i := range p.long {
		s := &p.long[i]
		d, have, limit := p.askedW(s, w, in, air, massKg, speedMPS)
		use := d / have
		if have <= 0 {
			use = math.Inf(1)
			if d <= 0 {
				use = 0
			}
		}
		out.useShare = max(out.useShare, use)
		if use/limit > closest {
			closest = use / limit
			out.demandW, out.availableW, out.limitShare, out.at = d, have, limit, *s
		}
	}
	return out
}

// askedW is the power that a stretch demands at the wheels, the power of the retarders there, and
// the share of it that may be used. At the steep end of a window's bound the speed that the truck
// may gain over it reduces the demand, and the part of the reserve for the bound may be used.
func (p *problem) askedW(s *stretch, w vehicle.WheelPower, in hand, air airflow, massKg, v float64) (demandW, haveW, limitShare float64) {
	demandW = (massKg*(s.pullMPS2-in.gainMPS2*s.perM) - air.dragN(s)) * v
	keep := 1 - p.reserve
	if s.perM == 0 {
		return demandW, w.AtW(s.engineShare), keep
	}
	return demandW, in.forceN(s.engineShare) * v, p.windowShare(keep)
}

// missing is the least missing power over every gear and whole speed under the ceilings, with that
// gear and speed.
func (p *problem) missing(massKg float64) (powerW float64, gear int, speedMPS float64) {
	powerW = math.Inf(1)
	top := max(1, p.wholeUnder(massKg))
	consider := func(g int, v float64, w vehicle.WheelPower) {
		in, air := p.inHand(p.topStage, g, v), p.airflowAt(v)
		lack := 0.0
		for i := len(p.long) - 1; i >= 0 && lack < powerW; i-- {
			d, have, limit := p.askedW(&p.long[i], w, in, air, massKg, v)
			lack = max(lack, d-limit*have)
		}
		for i := len(p.short) - 1; i >= 0 && lack < powerW; i-- {
			s := &p.short[i]
			lack = max(lack, (massKg*s.pullMPS2-air.dragN(s))*v-w.AtW(s.engineShare))
		}
		if lack < powerW {
			powerW, gear, speedMPS = lack, g, v
		}
	}
	isCharging := p.massKg <= p.chargeKg
	for g := p.truck.GearCount(); g >= 1; g-- {
		for u := 1; u <= top; u++ {
			if v := p.speed(u); p.truck.HasEngineSpeed(g, v) {
				consider(g, v, charging(p.scaled(p.forces.powerAt(p.topStage, g, u)), isCharging))
			}
		}
	}
	if gear == 0 { // the ceilings are below crawling speed: use the lowest speed of the truck
		v := p.truck.SpeedFromRPM(1, p.truck.EngineMinRPM)
		consider(1, v, p.wheelPower(1, v))
	}
	return powerW, gear, speedMPS
}
