package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// lightestSearchedKg is the least mass that a search for one that keeps its grip looks at.
const lightestSearchedKg = 1000.0

// lighterHeldKg is the heaviest mass that is held by power and keeps its grip, for a truck that is
// not held, from the heaviest by power on down; 0 where there is none over 1 t. Grip is not monotone in
// mass, so it searches in steps first.
func (p *problem) lighterHeldKg(byPowerKg float64) float64 {
	const steps = 60
	if byPowerKg >= 1 && byPowerKg <= p.massKg && p.isHeldAt(byPowerKg) {
		return byPowerKg
	}
	fromKg := min(byPowerKg, p.massKg)
	if fromKg < lightestSearchedKg {
		return 0
	}
	search := p.newGripSearch(fromKg)
	above := fromKg
	for i := 1; i < steps && len(search.cases) > 0; i++ {
		kg := fromKg + (lightestSearchedKg-fromKg)*float64(i)/steps
		if kg < lightestSearchedKg {
			break
		}
		if search.holds(kg) {
			return highestHeld(kg, above, search.holds)
		}
		above = kg
	}
	return 0
}

// isHeldAt reports whether some gear holds a mass at some speed under the ceilings, by power and grip.
func (p *problem) isHeldAt(massKg float64) bool {
	dry := vehicle.AllowedFriction(0)
	retardedKg, trailerKg := p.truck.RetardedLoadKg(massKg), p.truck.TrailerLoadKg(massKg)
	for u := p.wholeUnder(massKg); u >= 1; u-- {
		for _, in := range p.forces.runningAt(u) {
			if p.heaviestRunningKg(u, in, massKg) >= massKg && p.frictionOn(p.applied(p.stageFor(in.gear, u, massKg), in.gear, u), retardedKg, trailerKg) <= dry {
				return true
			}
		}
	}
	return false
}

// gripSearch answers for many masses whether one is held by power and grip. It knows which gears and
// speeds cannot.
type gripSearch struct {
	p     *problem
	cases []gripCase
	last  int // that held last; it mostly does again
}

// gripCase is a gear and whole speed that may hold some mass on its grip.
type gripCase struct {
	running
	whole  int
	mostKg float64              // no heavier mass is held
	forces []vehicle.WheelForce // when a stage is switched on, by stage
	most   int                  // highest stage that may grip under some mass
}

// newGripSearch is for masses from lightestSearchedKg to fromKg. A stage that slides under the
// greatest load of all these masses slides under each of them.
func (p *problem) newGripSearch(fromKg float64) *gripSearch {
	s := &gripSearch{p: p}
	retardedKg, trailerKg := p.greatestLoadsKg(fromKg)
	most := vehicle.AllowedFriction(0) * (1 + 1e-9)
	stages := p.topStage + 1
	var forces []vehicle.WheelForce
	for u := p.topWhole(); u >= 1; u-- {
		for _, in := range p.forces.runningAt(u) {
			c := gripCase{running: in, whole: u, mostKg: math.Inf(1), most: -1}
			for stage := range stages {
				f := p.applied(stage, in.gear, u)
				forces = append(forces, f)
				if !(p.frictionOn(f, retardedKg, trailerKg) > most) {
					c.most = stage
				}
			}
			if c.most >= 0 {
				c.forces = forces[len(forces)-stages:]
				s.cases = append(s.cases, c)
			}
		}
	}
	return s
}

// greatestLoadsKg are the greatest loads on the retarded axles, the driven ones' and the trailer's, of all
// masses up to one. They change in proportion between the empty and the full truck.
func (p *problem) greatestLoadsKg(upToKg float64) (retardedKg, trailerKg float64) {
	full, empty := 0.0, 0.0
	for _, a := range p.truck.Axles {
		full, empty = full+a.LoadKg, empty+a.EmptyKg
	}
	for _, kg := range []float64{upToKg, min(full, upToKg), min(empty, upToKg)} {
		retardedKg, trailerKg = max(retardedKg, p.truck.RetardedLoadKg(kg)), max(trailerKg, p.truck.TrailerLoadKg(kg))
	}
	return retardedKg, trailerKg
}

// holds reports whether a mass is held in any of the cases.
func (s *gripSearch) holds(massKg float64) bool {
	top := s.p.wholeUnder(massKg)
	retardedKg, trailerKg := s.p.truck.RetardedLoadKg(massKg), s.p.truck.TrailerLoadKg(massKg)
	isHeld := func(c *gripCase) bool {
		return c.whole <= top && massKg <= c.mostKg && s.p.isHeldOnGrip(c, massKg, retardedKg, trailerKg)
	}
	if isHeld(&s.cases[s.last]) {
		return true
	}
	for i := range s.cases {
		if isHeld(&s.cases[i]) {
			s.last = i
			return true
		}
	}
	return false
}

// isHeldOnGrip reports whether the lowest stage that holds a mass grips. Where all stages up to one grip,
// any of them that holds will do; the highest mostly tells. Where no stage that may grip holds, the
// case's mostKg is lowered.
func (p *problem) isHeldOnGrip(c *gripCase, massKg, retardedKg, trailerKg float64) bool {
	dry := vehicle.AllowedFriction(0)
	if kg := p.heaviestRunningKg(c.whole, c.running, massKg); kg < massKg {
		c.mostKg = kg
		return false
	}
	highest, slides := -1, len(c.forces)
	for stage, f := range c.forces {
		if p.frictionOn(f, retardedKg, trailerKg) <= dry {
			highest = stage
		} else if slides > stage {
			slides = stage
		}
	}
	switch {
	case highest < 0:
		return false
	case highest > slides:
		return p.frictionOn(c.forces[p.stageFor(c.gear, c.whole, massKg)], retardedKg, trailerKg) <= dry
	case highest == p.topStage:
		return true
	}
	most := 0.0
	for stage := highest; stage >= 0; stage-- {
		kg := p.heaviestOfStageKg(stage, c.gear, c.whole, massKg)
		if kg >= massKg {
			return true
		}
		most = max(most, kg)
	}
	if highest == c.most {
		c.mostKg = most
	}
	return false
}
