package holding

import (
	"gradeline/catalog/vehicle"
)

// speed is a whole mph or km/h in metres per second.
func (p *problem) speed(whole int) float64 { return float64(whole) * p.units.SpeedUnitMPS() }

// topWhole is the highest whole speed under the ceilings that the truck can run
// at in top gear.
func (p *problem) topWhole() int {
	top := p.truck.SpeedFromRPM(p.truck.GearCount(), p.truck.EngineMaxRPM)
	return p.units.WholeSpeed(min(top, p.capMPS))
}

// wholeUnder is the highest whole speed under every ceiling at a mass.
func (p *problem) wholeUnder(massKg float64) int {
	return min(p.topWhole(), p.units.WholeSpeed(p.stopCeiling(massKg).SpeedMPS))
}

// workingRPM is the engine speed from which a gear is preferred if something other than
// the engine limits the speed. Engine brakes are strongest from about 1,800 rpm up (a
// truck maker's driver manual, published); the figure itself is common practice.
const workingRPM = 1650.0

// choice is a gear at a speed, with the stage that holds it there.
type choice struct {
	gear, stage int
	isWorking   bool               // at workingRPM or more
	applied     vehicle.WheelForce // that the stage puts on the retarded wheels when it is switched on
	lightKg     float64            // lightest mass that keeps its grip on a dry road
	surfaces    int                // that are excluded, for lightKg
	useShare    float64            // of the top stage, on the stretch with the highest demand
	hasSlid     bool               // at a higher speed a gear holds by power, but its stage would lock the wheels
}

// isBetter orders choices of one speed: an engine speed at which the retarder works,
// then the fewest surfaces excluded, then the largest reserve.
func (c *choice) isBetter(d *choice) bool {
	switch {
	case d.gear == 0:
		return true
	case c.isWorking != d.isWorking:
		return c.isWorking
	case c.surfaces != d.surfaces:
		return c.surfaces < d.surfaces
	}
	return c.useShare < d.useShare
}

// best is the highest whole speed that any gear holds at the problem's mass, and the
// choice of gear there; gear 0 if none holds.
func (p *problem) best() (whole int, at choice) {
	hasSlid := false
	for u := p.wholeUnder(p.massKg); u >= 1; u-- {
		c := p.choiceAt(u)
		if c.gear > 0 {
			c.hasSlid = hasSlid
			return u, c
		}
		hasSlid = hasSlid || c.hasSlid
	}
	return 0, choice{hasSlid: hasSlid}
}

// choiceAt is the best gear at a whole speed; gear 0 if none holds it.
func (p *problem) choiceAt(whole int) choice {
	var best choice
	hasSlid := false
	for _, in := range p.forces.runningAt(whole) {
		if p.heaviestRunningKg(whole, in, p.massKg) < p.massKg {
			continue
		}
		c, grips := p.choose(in.gear, whole)
		hasSlid = hasSlid || !grips
		if grips && c.isBetter(&best) {
			best = c
		}
	}
	best.hasSlid = hasSlid
	return best
}

// choose works out a gear that holds a speed by power. It returns false where the stage, when
// switched on, would lock the wheels on a dry road.
func (p *problem) choose(gear, whole int) (choice, bool) {
	v := p.speed(whole)
	c := choice{gear: gear, stage: p.stage(gear, whole), isWorking: p.isWorking(gear, v)}
	c.applied = p.applied(c.stage, gear, whole)
	dry := vehicle.AllowedFriction(0)
	if p.frictionOf(c.applied, p.massKg) > dry {
		return c, false
	}
	c.useShare = max(0, p.worst(gear, v, p.massKg).useShare)
	c.lightKg = p.lightKg
	if p.frictionOf(c.applied, c.lightKg) > dry {
		c.lightKg = p.lightestOnGripKg(c.applied, c.lightKg, p.massKg, dry)
	}
	for i := range vehicle.Surfaces {
		if p.frictionOf(c.applied, c.lightKg) > vehicle.AllowedFriction(i) {
			c.surfaces++
		}
	}
	return c, true
}

// isWorking reports whether the engine turns at workingRPM or more.
func (p *problem) isWorking(gear int, v float64) bool {
	return p.truck.RPMFromSpeed(gear, v) >= workingRPM*(1-1e-9)
}

// applied is the force of a stage on the retarded wheels when it is switched on.
func (p *problem) applied(stage, gear, whole int) vehicle.WheelForce {
	f := p.forces.appliedAt(stage, gear, whole)
	if p.v.retarderShare > 0 {
		f.DrivenN *= p.v.retarderShare
		f.TrailerN *= p.v.retarderShare
	}
	return f
}

// heaviestMassKg is the heaviest mass that any gear holds at any whole speed under
// the ceilings, to 1 g and never above the truth. Holding by power is monotone in
// mass, so halving finds it; where it holds, the search begins at the truck's own
// mass, so the two agree. For a truck that is not held, grip is checked too.
func (p *problem) heaviestMassKg(isHeld bool) float64 {
	top := p.topWhole()
	best := make([]float64, top+1)
	for u := 1; u <= top; u++ { // best up to each speed: only a gear that holds more than it counts
		best[u] = best[u-1]
		for _, in := range p.forces.runningAt(u) {
			best[u] = max(best[u], p.heaviestRunningKg(u, in, best[u]))
		}
	}
	holds := func(kg float64) bool {
		u := p.wholeUnder(kg)
		return u >= 1 && best[u] >= kg
	}
	if isHeld {
		return highestHeld(p.massKg, HeaviestSearchedKg, holds)
	}
	// Not held: by power no mass holds, or only a lighter one, which may still slide.
	kg := highestHeld(0, HeaviestSearchedKg, holds)
	return p.lighterHeldKg(kg)
}

// highestHeld halves down to the highest mass that holds, from one that does.
func highestHeld(lo, hi float64, holds func(kg float64) bool) float64 {
	if holds(hi) {
		return hi
	}
	for hi-lo > 1e-3 {
		if mid := (lo + hi) / 2; holds(mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}
