package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// leastCos is the cosine of the steepest downgrade, where the load on the axles is least.
func (p *problem) leastCos() float64 {
	cos := 1.0
	for i := range p.long {
		if p.long[i].gradePct > 0 {
			cos = min(cos, p.long[i].cos)
		}
	}
	return cos
}

// frictionOf is the friction that forces on the retarded wheels need under a truck of a mass, with
// the axle loads of that mass; the greater of the driven axles' and the trailer's.
func (p *problem) frictionOf(f vehicle.WheelForce, massKg float64) float64 {
	trailerKg := 0.0
	if f.TrailerN > 0 {
		trailerKg = p.truck.TrailerLoadKg(massKg)
	}
	return p.frictionOn(f, p.truck.RetardedLoadKg(massKg), trailerKg)
}

// frictionOn is frictionOf for the loads on the retarded axles.
func (p *problem) frictionOn(f vehicle.WheelForce, retardedKg, trailerKg float64) float64 {
	friction := f.DrivenN / (retardedKg * vehicle.GravityMPS2 * p.cos)
	if f.TrailerN > 0 {
		friction = math.Max(friction, f.TrailerN/(trailerKg*vehicle.GravityMPS2*p.cos))
	}
	return friction
}

// lightestOnGripKg is the lightest mass, to 1 kg, that a road of a friction lets grip under forces on
// the retarded wheels, between one that slides and a heavier one that grips.
func (p *problem) lightestOnGripKg(f vehicle.WheelForce, slidesKg, gripsKg, friction float64) float64 {
	for gripsKg-slidesKg > 1 {
		if mid := (slidesKg + gripsKg) / 2; p.frictionOf(f, mid) > friction {
			slidesKg = mid
		} else {
			gripsKg = mid
		}
	}
	return gripsKg
}

// retardedLoadKg is the mass on all axles that a retarder acts on.
func (p *problem) retardedLoadKg(massKg float64) float64 {
	return p.truck.RetardedLoadKg(massKg) + p.truck.TrailerLoadKg(massKg)
}

// frictionNeeded is the friction for holding a mass at a speed on the stretch with the highest
// demand.
func (p *problem) frictionNeeded(speedMPS, massKg float64) float64 {
	load := p.retardedLoadKg(massKg)
	most, air := 0.0, p.airflowAt(speedMPS)
	for i := range p.long {
		s := &p.long[i]
		f := massKg*s.pullMPS2 - air.dragN(s)
		most = max(most, f/(load*vehicle.GravityMPS2*s.cos))
	}
	return most
}

// gripsDemand reports whether a dry road has the friction for holding a mass at a speed.
func (p *problem) gripsDemand(speedMPS, massKg float64) bool {
	return p.frictionNeeded(speedMPS, massKg) <= vehicle.AllowedFriction(0)
}

// ungrippedW is the part of the power that the retarded axles cannot transmit to a dry road.
func (p *problem) ungrippedW(speedMPS float64) float64 {
	load := p.retardedLoadKg(p.massKg)
	most := 0.0
	air := p.airflowAt(speedMPS)
	for i := range p.long {
		s := &p.long[i]
		demandN := p.massKg*s.pullMPS2 - air.dragN(s)
		most = max(most, (demandN-vehicle.AllowedFriction(0)*load*vehicle.GravityMPS2*s.cos)*speedMPS)
	}
	return most
}

// surfaceAnswers says for each surface whether it has enough friction, and lists the names of those
// that do not.
func surfaceAnswers(friction float64) (answers []catalog.SurfaceAnswer, excluded []string) {
	excluded = []string{}
	for i, s := range vehicle.Surfaces {
		a := catalog.SurfaceAnswer{Surface: s.Name, FrictionApplied: friction, FrictionAllowed: vehicle.AllowedFriction(i)}
		a.Allowed = friction <= a.FrictionAllowed
		if !a.Allowed {
			excluded = append(excluded, s.Name)
		}
		answers = append(answers, a)
	}
	return answers, excluded
}

// isGripLimited reports whether a hill is not held because of grip: the demand is beyond a dry
// road's friction, or some gear holds it by power.
func (p *problem) isGripLimited(speedMPS, lackW float64) bool {
	if !p.gripsDemand(speedMPS, p.massKg) {
		return true
	}
	return lackW <= 0 && !math.IsInf(p.leastApplied(), 1)
}

// leastApplied is the least friction that any stage needs, when switched on, among the
// gears and speeds that hold the truck by power; +Inf where none does.
func (p *problem) leastApplied() float64 {
	least := math.Inf(1)
	for u := p.wholeUnder(p.massKg); u >= 1; u-- {
		for g := 1; g <= p.truck.GearCount(); g++ {
			if p.holdsAt(u, g) {
				c, _ := p.choose(g, u)
				least = min(least, p.frictionOf(c.applied, p.massKg))
			}
		}
	}
	return least
}
