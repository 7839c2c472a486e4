package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// gearShift is a shift out of a gear at the beginning of a block.
type gearShift struct{ block, from int }

// anyBlock stands for the shifts down out of a gear at all blocks.
const anyBlock = -1

const (
	mostReplans  = 20   // plans looked at; a limit on time
	worthReplanS = 60.0 // a shift that costs more than this before it is tried without
)

// fastestInTime is the gear and the speed of each block of the fastest way down on which the retarder
// alone slows the truck in time; isHeldBack says where that sets the speed. Where no other way is
// found, the advised gear at the advised speed holds everywhere.
func (p *problem) fastestInTime(blocks []block, whole int, at choice) (path, speeds []int, isHeldBack []bool) {
	leastS := math.Inf(1)
	for most := range blocks[0].wholeByGear { // no gear above this one
		isOut := map[gearShift]bool{}
		for range mostReplans {
			plan := p.fastestPath(blocks, at.gear, most, isOut)
			planned, held, failed := p.slowInTime(blocks, plan)
			if planned != nil {
				var timeS float64
				if timeS, failed = p.timeOf(blocks, plan, planned); timeS < leastS {
					leastS, path, speeds, isHeldBack = timeS, plan, planned, held
				}
			}
			if failed.from == 0 || isOut[failed] {
				break
			}
			isOut[failed] = true
		}
	}
	if path != nil {
		return path, speeds, isHeldBack
	}
	path = make([]int, len(blocks))
	for k := range blocks {
		path[k] = at.gear
		blocks[k].wholeByGear[0] = whole
	}
	speeds, isHeldBack, _ = p.slowInTime(blocks, path)
	return path, speeds, isHeldBack
}

// timeOf is the time of a plan, with shiftCostS for each shift, and the shift down before which the
// truck loses most by going slowly; none where that is little.
func (p *problem) timeOf(blocks []block, path, speeds []int) (timeS float64, worst gearShift) {
	lostS, mostS := 0.0, worthReplanS
	for i := range blocks {
		lengthM := blocks[i].toM - blocks[i].fromM
		if i > 0 && path[i] != path[i-1] {
			timeS += shiftCostS
			if path[i] < path[i-1] && lostS > mostS {
				mostS, worst = lostS, gearShift{anyBlock, path[i-1]}
			}
			lostS = 0
		}
		timeS += lengthM / p.speed(speeds[i])
		lostS += lengthM/p.speed(speeds[i]) - lengthM/p.speed(blocks[i].wholeAt(path[i]))
	}
	return timeS, worst
}

func isRuledOut(isOut map[gearShift]bool, block, from, to int) bool {
	return isOut[gearShift{block, from}] || to < from && isOut[gearShift{anyBlock, from}]
}

// shiftAt is the whole speed at which the truck shifts between two blocks; 0 where no shift is safe.
// A shift up is made at the slower one's speed. For a shift down the truck first slows in its gear,
// as far as the retarder holds it there, and is in the next gear before anything else limits it.
func (p *problem) shiftAt(a, b *block, from, to int) int {
	low := min(a.wholeAt(from), b.wholeAt(to))
	if low == noSpeedWhole {
		return noSpeedWhole
	}
	if to > from {
		if _, ok := p.afterShift(a, b, from, to, low); ok {
			return low
		}
		return noSpeedWhole
	}
	top := p.units.WholeSpeed(p.truck.SpeedFromRPM(to, p.truck.EngineMaxRPM))
	for u := min(a.wholeAt(from), top); u > 0 && p.truck.HasEngineSpeed(from, p.speed(u)); u-- {
		if p.isShiftDown(a, b, from, to, u) {
			return u
		}
	}
	return noSpeedWhole
}

// isShiftDown reports whether a shift down at a whole speed is safe: the old gear holds the truck at
// it, and the new one at the speed after the shift, below every limit but a curve.
func (p *problem) isShiftDown(a, b *block, from, to, whole int) bool {
	v, ok := p.afterShift(a, b, from, to, whole)
	return ok && v <= min(a.ceilingMPS, b.limitMPS) && a.p.spareMPS2(to, v) >= 0 && b.p.spareMPS2(to, v) >= 0 &&
		a.p.isCarried(from, whole) && a.isOnGrip(from, whole)
}

// afterShift is the speed after a shift between two blocks: outOfGearS without any retardation. It is
// ok where both gears turn the engine within its band before, and the new gear below its governed
// speed after.
func (p *problem) afterShift(a, b *block, from, to, whole int) (speedMPS float64, ok bool) {
	v := p.speed(whole)
	gains := 0.0
	for _, q := range []*problem{a.p, b.p} {
		gains = max(gains, q.gainMPS(v, q.massKg)/delayS*outOfGearS)
	}
	return v + gains, p.truck.HasEngineSpeed(from, v) && p.truck.HasEngineSpeed(to, v) &&
		v+gains <= p.truck.SpeedFromRPM(to, p.truck.EngineMaxRPM)
}

// wholeAt is the block's highest whole speed in a gear.
func (b *block) wholeAt(gear int) int { return b.wholeByGear[gear-b.firstGear] }

// slowInTime lowers speeds so that the part of the retarder that the block itself does not need slows
// the truck to the next one's speed within the block. failed is a shift with which that is not
// possible; no speeds are returned then.
func (p *problem) slowInTime(blocks []block, path []int) (speeds []int, isHeldBack []bool, failed gearShift) {
	speeds, isHeldBack = make([]int, len(blocks)), make([]bool, len(blocks))
	for i := len(blocks) - 1; i >= 0; i-- {
		speeds[i] = blocks[i].wholeAt(path[i])
		if i == len(blocks)-1 {
			continue
		}
		at := p.shiftSpeed(blocks, path, i)
		isDown := path[i] > path[i+1]
		if at == noSpeedWhole || isDown && !p.isSlowedAfter(blocks, path, speeds, i+1, at) {
			return nil, nil, gearShift{i + 1, path[i]}
		}
		u := at // on all of the block, so that the driver may shift anywhere on it
		switch next := speeds[i+1]; {
		case !isDown:
			u = blocks[i].fastestBefore(path[i], speeds[i], min(at, next))
		case p.isShiftDown(&blocks[i], &blocks[i+1], path[i], path[i+1], next): // the driver slows to the next speed anyway
			u = blocks[i].fastestBefore(path[i], speeds[i], next)
		}
		if u < speeds[i] {
			speeds[i], isHeldBack[i] = u, true
		}
		if u == noSpeedWhole {
			return nil, nil, gearShift{nextShift(path, i), path[i]}
		}
	}
	return speeds, isHeldBack, gearShift{}
}

// shiftSpeed is shiftAt between block i and the next; without a shift, the speed of block i.
func (p *problem) shiftSpeed(blocks []block, path []int, i int) int {
	if path[i] == path[i+1] {
		return blocks[i].wholeAt(path[i])
	}
	return p.shiftAt(&blocks[i], &blocks[i+1], path[i], path[i+1])
}

// nextShift is the block of the first shift after block i.
func nextShift(path []int, i int) int {
	for k := i + 1; k < len(path); k++ {
		if path[k] != path[i] {
			return k
		}
	}
	return len(path)
}

// isSlowedAfter reports whether the truck, faster after a shift down at the beginning of block i,
// comes down to the speed of a curve before it, and to the block's speed and that of the next within
// the block.
func (p *problem) isSlowedAfter(blocks []block, path, speeds []int, i, shiftWhole int) bool {
	b := &blocks[i]
	v, _ := p.afterShift(&blocks[i-1], b, path[i-1], path[i], shiftWhole)
	isSlowed := func(w, toM float64) bool {
		spare := min(b.p.spareMPS2(path[i], v), b.p.spareMPS2(path[i], w)) // the weaker end
		return v <= w || v*v <= w*w+2*max(0, spare)*(toM-b.fromM-outOfGearS*v)
	}
	low := speeds[i]
	if i+1 < len(blocks) {
		low = min(low, speeds[i+1])
	}
	return isSlowed(p.speed(low), b.toM) && isSlowed(p.speed(speeds[i]), p.hill.curveFrom(b.fromM, b.toM, v, p.class))
}

// curveFrom is the first place on a stretch with a curve that is too tight for a speed; its end
// without one.
func (h *Hill) curveFrom(fromM, toM, speedMPS float64, c *vehicle.Class) float64 {
	for i, r := range h.RadiusM {
		if s := h.StationM[i]; r > 0 && s >= fromM && s <= toM {
			if v, _ := vehicle.CurveSpeedMPS(r, c.CurveRolloverShare()); v < speedMPS {
				return s
			}
		}
	}
	return toM
}

// spareMPS2 is by how much the retarder less its reserve slows the truck on the hardest span;
// negative where it does not hold it.
func (p *problem) spareMPS2(gear int, speedMPS float64) float64 {
	spare := math.Inf(1)
	power := p.wheelPower(gear, speedMPS)
	air := p.airflowAt(speedMPS)
	for i := range p.long {
		s := &p.long[i]
		demandN := p.massKg*s.pullMPS2 - air.dragN(s)
		spare = min(spare, ((1-p.reserve)*power.AtW(s.engineShare)/speedMPS-demandN)/p.massKg)
	}
	return spare
}

// fastestBefore is the highest whole speed up to top from which the block's spare retarder slows the
// truck to the next speed by its end, and which the gear holds; the next speed itself where that
// holds; 0 where none does.
func (b *block) fastestBefore(gear, top, next int) int {
	p := b.p
	for u := top; u > next; u-- {
		v, w := p.speed(u), p.speed(next)
		if u > b.sureWhole && !p.isCarried(gear, u) {
			continue
		}
		spare := min(p.spareMPS2(gear, v), p.spareMPS2(gear, w)) // the weaker end
		if v*v <= w*w+2*max(0, spare)*(b.toM-b.fromM) {
			return u
		}
	}
	switch {
	case top <= next:
		return top
	case next <= b.sureWhole && gear == b.firstGear || p.isCarried(gear, next):
		return next
	case gear == b.firstGear:
		return b.sureWhole
	}
	return noSpeedWhole
}
