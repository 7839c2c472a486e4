package holding

import (
	"math"
	"slices"

	"gradeline/catalog/vehicle"
)

// gearShift is a shift out of a gear at the beginning of a block.
type gearShift struct {
	block, from int
	isSlowing   bool // by the service brakes
}

// anyBlock stands for the shifts down out of a gear at all blocks.
const anyBlock = -1

const (
	mostReplans  = 20   // plans looked at; a limit on time
	worthReplanS = 60.0 // a shift that costs more than this before it is tried without
)

// gearPath is the gear of each block, and after which blocks the service brakes slow the truck for the
// next one.
type gearPath struct {
	gears    []int
	slowings []bool
}

// plan is a way down with its speeds; isHeldBack says where slowing down in time sets the speed.
type plan struct {
	gearPath
	speeds     []int
	isHeldBack []bool
	timeS      float64
}

// fastestInTime is the fastest way down on which the retarder alone slows the truck in time. Where no
// other way is found, the advised gear at the advised speed holds everywhere.
func (p *problem) fastestInTime(blocks []block, whole int, at choice) plan {
	if best, ok := p.fastestPlan(blocks, at.gear, slowingRoom{}); ok {
		return best
	}
	path := gearPath{gears: make([]int, len(blocks)), slowings: make([]bool, len(blocks))}
	for k := range blocks {
		path.gears[k] = at.gear
		blocks[k].wholeByGear[0], blocks[k].shiftWhole = whole, nil
	}
	speeds, isHeldBack, _ := p.slowInTime(blocks, path, slowingRoom{})
	out := plan{gearPath: path, speeds: speeds, isHeldBack: isHeldBack}
	out.timeS, _ = p.timeOf(blocks, &out)
	return out
}

// fastestPlan looks at the plans with no gear above a given one, for each such gear, and returns the
// fastest; false without one.
func (p *problem) fastestPlan(blocks []block, gear int, room slowingRoom) (best plan, ok bool) {
	best.timeS = math.Inf(1)
	for most := range blocks[0].wholeByGear {
		isOut := map[gearShift]bool{}
		for range mostReplans {
			next := plan{gearPath: p.fastestPath(blocks, gear, most, room, isOut)}
			var failed gearShift
			if next.speeds, next.isHeldBack, failed = p.slowInTime(blocks, next.gearPath, room); next.speeds != nil {
				if next.timeS, failed = p.timeOf(blocks, &next); next.timeS < best.timeS {
					best, ok = next, true
				}
			}
			if failed.from == 0 || isOut[failed] {
				break
			}
			isOut[failed] = true
		}
	}
	return best, ok
}

// timeOf is the time of a plan, with shiftCostS for each shift, and the shift down before which the
// truck loses most by going slowly; none where that is little.
func (p *problem) timeOf(blocks []block, x *plan) (timeS float64, worst gearShift) {
	lostS, mostS := 0.0, worthReplanS
	for i := range blocks {
		lengthM := blocks[i].toM - blocks[i].fromM
		if i > 0 && x.gears[i] != x.gears[i-1] {
			timeS += shiftCostS
			if x.gears[i] < x.gears[i-1] && lostS > mostS {
				mostS, worst = lostS, gearShift{anyBlock, x.gears[i-1], x.slowings[i-1]}
			}
			lostS = 0
		}
		timeS += lengthM / p.speed(x.speeds[i])
		lostS += lengthM/p.speed(x.speeds[i]) - lengthM/p.speed(blocks[i].wholeAt(x.gears[i]))
	}
	return timeS, worst
}

// canShift reports whether the truck may be in gear from before a block and in gear to on it, and
// whether only the service brakes slow it enough for that.
func (p *problem) canShift(blocks []block, i, from, to int, room slowingRoom, isOut map[gearShift]bool) (ok, isSlowing bool) {
	if from == to {
		return true, false
	}
	a, b := &blocks[i-1], &blocks[i]
	if !isRuledOut(isOut, i, from, to, false) && p.shiftAt(a, b, from, to) != noSpeedWhole {
		return true, false
	}
	if room.riseF > 0 && !isRuledOut(isOut, i, from, to, true) && p.slowingFrom(a, b, from, to, b.wholeAt(to), room) != noSpeedWhole {
		return true, true
	}
	return false, false
}

func isRuledOut(isOut map[gearShift]bool, block, from, to int, isSlowing bool) bool {
	return isOut[gearShift{block, from, isSlowing}] || to < from && isOut[gearShift{anyBlock, from, isSlowing}]
}

// unknownShift stands for a shift that was not looked at.
const unknownShift = -1

// shiftAt is shiftBetween, worked out once.
func (p *problem) shiftAt(a, b *block, from, to int) int {
	n := len(b.wholeByGear)
	if b.shiftWhole == nil {
		b.shiftWhole = slices.Repeat([]int{unknownShift}, n*n)
	}
	at := &b.shiftWhole[(from-b.firstGear)*n+to-b.firstGear]
	if *at == unknownShift {
		*at = p.shiftBetween(a, b, from, to)
	}
	return *at
}

// shiftBetween is the whole speed at which the truck shifts between two blocks; 0 where no shift is safe.
// A shift up is made at the slower one's speed. For a shift down the truck first slows in its gear,
// as far as the retarder holds it there, and is in the next gear before anything else limits it.
func (p *problem) shiftBetween(a, b *block, from, to int) int {
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
func (p *problem) slowInTime(blocks []block, r gearPath, room slowingRoom) (speeds []int, isHeldBack []bool, failed gearShift) {
	path := r.gears
	speeds, isHeldBack = make([]int, len(blocks)), make([]bool, len(blocks))
	for i := len(blocks) - 1; i >= 0; i-- {
		speeds[i] = blocks[i].wholeAt(path[i])
		if i == len(blocks)-1 {
			continue
		}
		if r.slowings[i] {
			u := p.slowingFrom(&blocks[i], &blocks[i+1], path[i], path[i+1], speeds[i+1], room)
			if u == noSpeedWhole {
				return nil, nil, gearShift{i + 1, path[i], true}
			}
			speeds[i], isHeldBack[i] = u, u < speeds[i]
			continue
		}
		at := p.shiftSpeed(blocks, path, i)
		isDown := path[i] > path[i+1]
		if at == noSpeedWhole || isDown && !p.isSlowedAfter(blocks, path, speeds, i+1, at) {
			return nil, nil, gearShift{i + 1, path[i], false}
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
			return nil, nil, r.nextShift(i)
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

// nextShift is the first shift after block i.
func (r gearPath) nextShift(i int) gearShift {
	for k := i + 1; k < len(r.gears); k++ {
		if r.gears[k] != r.gears[i] {
			return gearShift{k, r.gears[i], r.slowings[k-1]}
		}
	}
	return gearShift{len(r.gears), r.gears[i], false}
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
