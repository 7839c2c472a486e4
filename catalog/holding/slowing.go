package holding

import (
	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// A tight curve on a hill that a higher gear holds would set the speed of all of the hill before it,
// since on the grade no shift down to the curve's gear is safe. There the service brakes slow the
// truck once, while they are cold: the retarder alone held it until then, and holds it after that. A
// slowing is planned only
//
//   - for a curve, and only where it saves at least worthReplanS;
//   - at approachMPS2, as before a crest, with the foot on the brake until the new gear is in;
//   - on surfaces whose friction allows it;
//   - while all slowings of the hill, with no cooling and no help by the retarder, leave the brakes
//     below their working range, and able to make their emergency stop.

// slowingRoom is what a slowing may do to the service brakes.
type slowingRoom struct {
	riseF float64 // the most that one may heat them; 0: none is planned
}

// fastestBySlowing is the fastest way down with slowings, if it is faster than a plan without by more
// than worthReplanS.
func (p *problem) fastestBySlowing(blocks []block, whole int, at choice, without *plan) (plan, bool) {
	if !p.isSlowedByCurves(blocks, without) {
		return plan{}, false
	}
	all := p.slowingRoomF(blocks)
	for n := 1; n <= len(blocks) && all > 0; {
		best, ok := p.fastestPlan(blocks, at.gear, slowingRoom{all / float64(n)})
		if !ok || best.timeS > without.timeS-worthReplanS {
			break
		}
		rise, count := p.slowingsRiseF(blocks, &best)
		if count == 0 || rise <= all {
			return best, count > 0
		}
		n = max(n+1, count)
	}
	return plan{}, false
}

// isSlowedByCurves reports whether a curve costs a plan more than worthReplanS elsewhere.
func (p *problem) isSlowedByCurves(blocks []block, x *plan) bool {
	lostS, hasCurve := 0.0, false
	for i := range blocks {
		b := &blocks[i]
		if i > 0 && b.ceilingBy == catalog.LimitCurve {
			hasCurve = true
			continue
		}
		most := x.speeds[i]
		for _, u := range b.wholeByGear {
			most = max(most, u)
		}
		lostS += (b.toM - b.fromM) * (1/p.speed(x.speeds[i]) - 1/p.speed(most))
	}
	return hasCurve && lostS > worthReplanS
}

// slowingRoomF is by how much all slowings of the hill together may heat the service brakes: to where
// their working range begins, and no further than an emergency stop, and the stop at the foot,
// from the highest speed of the hill leave.
func (p *problem) slowingRoomF(blocks []block) float64 {
	g := p.heatModel
	top, stops := 0, 1
	for i := range blocks {
		for _, u := range blocks[i].wholeByGear {
			top = max(top, u)
		}
	}
	if p.opt.StopAtFoot || p.hill.FootStop {
		stops = 2
	}
	stopsF := float64(stops) * g.StopF(p.massKg/catalog.PoundKg, p.speed(top)/catalog.MilePerHourMPS, p.truck.ServiceBrakes.Count)
	return min(catalog.FFromC(vehicle.WorkingFromC), g.LimitTempF-stopsF) - g.StartTempF
}

// slowingsRiseF is the heat of all slowings of a plan.
func (p *problem) slowingsRiseF(blocks []block, x *plan) (riseF float64, count int) {
	for i, is := range x.slowings {
		if is {
			riseF += p.slowingRiseF(&blocks[i], p.speed(x.speeds[i]), p.speed(x.speeds[i+1]))
			count++
		}
	}
	return riseF, count
}

// slowingFrom is the highest whole speed of a block from which the service brakes may slow the truck
// to the next block's whole speed, in whose gear it then is; 0 where none may.
func (p *problem) slowingFrom(a, b *block, from, to, next int, room slowingRoom) int {
	w := p.speed(next)
	isForCurve := b.ceilingBy == catalog.LimitCurve && p.speed(b.wholeAt(to)+1) > b.ceilingMPS
	if to >= from || next == noSpeedWhole || !isForCurve || !p.truck.HasEngineSpeed(to, w) || !a.isHeldIn(to, next) || p.slowingFriction(a) > a.friction {
		return noSpeedWhole
	}
	for u := a.wholeAt(from); u > next; u-- {
		v := p.speed(u)
		if !p.truck.HasEngineSpeed(from, v) {
			break
		}
		if p.slowingLengthM(v, w) <= slowingShare*(a.toM-a.fromM) && p.slowingRiseF(a, v, w) <= room.riseF && a.isHeldIn(from, u) {
			return u
		}
	}
	return noSpeedWhole
}

// slowingShare is the longest slowing as a share of its block, so that the block keeps a stretch
// before it.
const slowingShare = 0.9

// isHeldIn reports whether a gear holds the truck at a whole speed on the block, and on its grip.
func (b *block) isHeldIn(gear, whole int) bool {
	return b.p.isCarried(gear, whole) && b.isOnGrip(gear, whole)
}

// slowingLengthM is the distance in which the service brakes slow the truck, and it is then put into
// gear.
func (p *problem) slowingLengthM(fromMPS, toMPS float64) float64 {
	return (fromMPS*fromMPS-toMPS*toMPS)/(2*approachMPS2) + outOfGearS*toMPS
}

// slowingRiseF is the rise of the service brakes' temperature in a slowing, the higher of the rating
// system's, whose stop heats them by the energy that it takes away, and that of the rotor. The brakes
// take all of it: that of the truck's motion and that of the hill.
func (p *problem) slowingRiseF(b *block, fromMPS, toMPS float64) float64 {
	brakes := p.truck.ServiceBrakes
	motion := (fromMPS*fromMPS - toMPS*toMPS) / 2
	energy := motion + b.mostPullMPS2()*p.slowingLengthM(fromMPS, toMPS) // by mass
	byStop := p.heatModel.StopF(p.massKg/catalog.PoundKg, 1/catalog.MilePerHourMPS, brakes.Count) * 2 * energy
	byRotor := p.massKg * energy / (float64(brakes.Count) * brakes.Balance().HeatCapacityJPerK())
	return max(byStop, catalog.FDiffFromC(byRotor))
}

// slowingFriction is the friction that a slowing needs on all wheels.
func (p *problem) slowingFriction(b *block) float64 {
	return (approachMPS2 + b.mostPullMPS2()) / vehicle.GravityMPS2
}

// mostPullMPS2 is the greatest pull on the block, without air resistance.
func (b *block) mostPullMPS2() float64 { return b.p.mostPull }
