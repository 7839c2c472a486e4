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
	closest := math.Inf(-1)
	for _, s := range p.long {
		d, have, limit := p.askedW(&s, w, in, massKg, speedMPS)
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
			out.demandW, out.availableW, out.limitShare, out.at = d, have, limit, s
		}
	}
	return out
}

// askedW is the power that a stretch demands at the wheels, the power of the retarders there, and
// the share of it that may be used. At the steep end of a window's bound the speed that the truck
// may gain over it reduces the demand, and the part of the reserve for the bound may be used.
func (p *problem) askedW(s *stretch, w vehicle.WheelPower, in hand, massKg, v float64) (demandW, haveW, limitShare float64) {
	demandW = (massKg*(s.pullMPS2-in.gainMPS2*s.perM) - p.airflowAt(v).dragN(s)) * v
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
	consider := func(g int, v float64) {
		w := p.wheelPower(g, v)
		in := p.inHand(p.topStage, g, v)
		var lack float64
		for _, s := range p.long {
			d, have, limit := p.askedW(&s, w, in, massKg, v)
			lack = max(lack, d-limit*have)
		}
		for _, s := range p.short {
			lack = max(lack, (massKg*s.pullMPS2-p.airflowAt(v).dragN(&s))*v-w.AtW(s.engineShare))
		}
		if lack < powerW {
			powerW, gear, speedMPS = lack, g, v
		}
	}
	for g := p.truck.GearCount(); g >= 1; g-- {
		for u := 1; u <= top; u++ {
			if v := p.speed(u); p.truck.HasEngineSpeed(g, v) {
				consider(g, v)
			}
		}
	}
	if gear == 0 { // the ceilings are below crawling speed: use the lowest speed of the truck
		consider(1, p.truck.SpeedFromRPM(1, p.truck.EngineMinRPM))
	}
	return powerW, gear, speedMPS
}
