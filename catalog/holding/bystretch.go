package holding

import (
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

const (
	blockM       = 500.0 // a hill is advised by stretches of whole blocks of about this length
	worthUnits   = 3     // a stretch that is less than this many mph or km/h faster is not listed
	outOfGearS   = 5.0   // a shift on a grade: time without engine brake (common practice, no source)
	shiftCostS   = 60.0  // a shift on a grade must save at least this time
	gearsTried   = 4     // above the advised gear
	mostBlocks   = 200
	noSpeedWhole = 0
)

// block is a piece of the hill with its hardest spans, as a separate problem.
type block struct {
	p           *problem
	fromM, toM  float64
	ceilingMPS  float64
	limitMPS    float64 // the same without curves
	ceilingBy   string
	firstGear   int     // the advised one
	sureWhole   int     // that the advised gear holds everywhere
	wholeByGear []int   // highest whole speed by gear from the advised one on; 0 where none holds
	friction    float64 // that no stage may exceed, for a truck of lightKg
	lightKg     float64
	shiftWhole  []int // by gear before and on it, the whole speed of a shift at its beginning; unknownShift
}

// stretches is the advice by stretch for a driver who changes speed, stage and, where it
// is safe, the gear on the way, and the time that it takes. At every block the advised
// gear holds at least the advised speed. A higher gear is used on easier parts only where
// the truck, out of gear for five seconds, still enters the next gear below its governed
// speed, and where the retarder slows it to each slower stretch in time.
func (p *problem) stretches(whole int, at choice) ([]catalog.HoldStretch, float64) {
	blocks := p.blocks()
	most := p.mostFriction(at)
	for i := range blocks {
		blocks[i].tryGears(whole, at, most)
	}
	best := p.fastestInTime(blocks, whole, at)
	if faster, ok := p.fastestBySlowing(blocks, whole, at, &best); ok {
		best = faster
	}
	var out []catalog.HoldStretch
	timeS, tempF := 0.0, p.heatModel.StartTempF
	for i := range blocks {
		b := &blocks[i]
		v := p.speed(best.speeds[i])
		s := p.stretchOf(b, best.gears[i], best.speeds[i])
		if best.isHeldBack[i] && i+1 < len(blocks) {
			s.LimitedBy = blocks[i+1].limitedBy(best.gears[i+1], best.speeds[i+1]) // the next speed
		}
		lengthM := b.toM - b.fromM
		var slowing *catalog.HoldStretch
		if best.slowings[i] {
			slowM := p.slowingLengthM(v, p.speed(best.speeds[i+1]))
			x := p.stretchOf(b, best.gears[i+1], best.speeds[i+1])
			x.LimitedBy = catalog.LimitCurve
			tempF += p.slowingRiseF(b, v, p.speed(best.speeds[i+1]))
			x.FromM, x.ToM = p.hill.RouteStationM(b.toM-slowM), s.ToM
			x.Slowing = &catalog.Slowing{FromSpeedMPS: v, ServiceBrakeTempC: upTo(catalog.CFromF(tempF), 10)}
			s.ToM, slowing = x.FromM, &x
			lengthM -= slowM
			timeS += slowM / x.SpeedMPS
		}
		timeS += lengthM / v
		out = appendStretch(out, s)
		if slowing != nil {
			out = append(out, *slowing)
		}
	}
	return out, timeS
}

// stretchOf is the advice for a block in a gear at a whole speed.
func (p *problem) stretchOf(b *block, gear, whole int) catalog.HoldStretch {
	return catalog.HoldStretch{FromM: p.hill.RouteStationM(b.fromM), ToM: p.hill.RouteStationM(b.toM), Gear: gear, GearName: p.truck.GearName(gear),
		Levers: p.truck.LeversAt(b.p.stage(gear, whole)), SpeedMPS: p.speed(whole), LimitedBy: b.limitedBy(gear, whole)}
}

// appendStretch adds a stretch to a list, or makes the last one longer where nothing changes for the
// driver.
func appendStretch(out []catalog.HoldStretch, s catalog.HoldStretch) []catalog.HoldStretch {
	if n := len(out); n > 0 && out[n-1].Slowing == nil && out[n-1].Gear == s.Gear && out[n-1].SpeedMPS == s.SpeedMPS && slices.Equal(out[n-1].Levers, s.Levers) {
		out[n-1].ToM = s.ToM
		return out
	}
	return append(out, s)
}

// blocks is the hill's pieces, each with its own ceilings.
func (p *problem) blocks() []block {
	grounds := p.slope.blocks()
	out, problems := make([]block, len(grounds)), make([]problem, len(grounds))
	var all []stretch // of all blocks
	for i := range out {
		b, g, q := &out[i], &grounds[i], &problems[i]
		b.fromM, b.toM = g.fromM, g.toM
		*q = *p
		q.memo, q.isAskedOnce = nil, true
		n := len(g.long)
		if len(all) < n+2 {
			all = make([]stretch, (len(grounds)-i)*(n+2))
		}
		q.long, q.short, q.sudden, all = all[:n:n], all[n:n+1:n+1], all[n+1:n+2:n+2], all[n+2:]
		for k := range g.long {
			q.long[k] = g.long[k].force(p.v.gradePct, p.truck)
		}
		q.short[0], q.sudden[0] = g.short.force(p.v.gradePct, p.truck), g.jolt.force(p.v.gradePct, p.truck)
		q.mostPull = mostPullMPS2(q.long, q.short, q.sudden)
		b.p = q
		b.limitMPS, b.ceilingBy = p.limitOn(g)
		b.ceilingMPS = b.limitMPS
		if v := p.curveOn(g); v < b.limitMPS {
			b.ceilingMPS, b.ceilingBy = v, catalog.LimitCurve
		}
	}
	return out
}

// curveOn is the speed of the tightest curve on a piece of the hill; +Inf without one.
func (p *problem) curveOn(g *ground) float64 {
	if math.IsInf(g.radiusM, 1) {
		return g.radiusM
	}
	v, _ := vehicle.CurveSpeedMPS(g.radiusM, p.class.CurveRolloverShare())
	return v
}

// limitOn is the lowest ceiling on a piece of the hill but for its curves: a posted limit counts
// where it is, all others everywhere.
func (p *problem) limitOn(g *ground) (speedMPS float64, by string) {
	stop := p.stopCeiling(p.massKg)
	speedMPS, by = stop.SpeedMPS, stop.Reason
	lower := func(v float64, reason string) {
		if v < speedMPS {
			speedMPS, by = v, reason
		}
	}
	for _, c := range p.ceiling {
		if c.Reason != catalog.LimitPosted && c.Reason != catalog.LimitCurve {
			lower(c.SpeedMPS, c.Reason)
		}
	}
	lower(p.hill.postedOn(p.hill.RouteStationM(g.fromM), p.hill.RouteStationM(g.toM)), catalog.LimitPosted)
	return speedMPS, by
}

// postedOn is the lowest limit posted in travel on a stretch between two stations, both
// ends counted; +Inf without one.
func (h *Hill) postedOn(aM, bM float64) float64 {
	low := math.Inf(1)
	for _, l := range h.Limits {
		applies := l.Forward && h.Direction == routes.Forward || l.Backward && h.Direction == routes.Backward
		if applies && l.ToM >= min(aM, bM) && l.FromM <= max(aM, bM) {
			low = min(low, l.SpeedMPS)
		}
	}
	return low
}

// mostFriction is the friction that no stretch may exceed: that of the most slippery surface which
// the answer allows.
func (p *problem) mostFriction(at choice) float64 {
	most := vehicle.AllowedFriction(0)
	applied := p.frictionOf(at.applied, at.lightKg)
	for i := range vehicle.Surfaces {
		if f := vehicle.AllowedFriction(i); applied <= f {
			most = min(most, f)
		}
	}
	return most
}

// tryGears works out the highest whole speed of each gear on the block.
func (b *block) tryGears(whole int, at choice, mostFriction float64) {
	t := b.p.truck
	b.firstGear, b.sureWhole, b.friction, b.lightKg = at.gear, whole, mostFriction, at.lightKg
	b.wholeByGear = make([]int, min(gearsTried, t.GearCount()-at.gear)+1)
	for k := range b.wholeByGear {
		gear := at.gear + k
		top := b.p.units.WholeSpeed(min(b.ceilingMPS, t.SpeedFromRPM(gear, t.EngineMaxRPM)))
		least := whole + 1
		if k > 0 {
			least = whole // a higher gear that is as fast here may be faster before
		}
		for u := top; u >= least && t.HasEngineSpeed(gear, b.p.speed(u)); u-- {
			if !b.p.isCarried(gear, u) {
				continue
			}
			if b.isOnGrip(gear, u) {
				b.wholeByGear[k] = u
				break
			}
		}
	}
	if b.wholeByGear[0] < whole+worthUnits {
		b.wholeByGear[0] = whole
	}
}

// isOnGrip reports whether the stage for a speed stays within the grip that the answer counts on.
func (b *block) isOnGrip(gear, whole int) bool {
	applied := b.p.forces.appliedAt(b.p.stage(gear, whole), gear, whole)
	return b.p.frictionOf(applied, b.lightKg) <= b.friction
}

// fastestPath is the gear of each block that gets the truck down in the least time, with shiftCostS
// for each shift, over safe shifts only and none of those ruled out, in gears at most mostUp above
// the advised one. Where no shift is safe, it is a slowing by the service brakes that leaves the room.
func (p *problem) fastestPath(blocks []block, gear, mostUp int, room slowingRoom, isOut map[gearShift]bool) gearPath {
	gears := mostUp + 1
	cost := make([][]float64, len(blocks))
	from, slows := make([][]int, len(blocks)), make([][]bool, len(blocks))
	for i := range blocks {
		cost[i], from[i], slows[i] = make([]float64, gears), make([]int, gears), make([]bool, gears)
		for k := range gears {
			cost[i][k] = math.Inf(1)
			u := blocks[i].wholeByGear[k]
			if u == noSpeedWhole {
				continue
			}
			s := (blocks[i].toM - blocks[i].fromM) / p.speed(u)
			if i == 0 {
				cost[i][k] = s
				continue
			}
			for j := range gears {
				c := cost[i-1][j] + s
				if j != k {
					c += shiftCostS
				}
				if c >= cost[i][k] {
					continue
				}
				if ok, isSlowing := p.canShift(blocks, i, gear+j, gear+k, room, isOut); ok {
					cost[i][k], from[i][k], slows[i][k] = c, j, isSlowing
				}
			}
		}
	}
	path := gearPath{gears: make([]int, len(blocks)), slowings: make([]bool, len(blocks))}
	k := 0
	for j := range gears {
		if cost[len(blocks)-1][j] < cost[len(blocks)-1][k] {
			k = j
		}
	}
	for i := len(blocks) - 1; i >= 0; i-- {
		path.gears[i] = gear + k
		if i > 0 {
			path.slowings[i-1] = slows[i][k]
		}
		k = from[i][k]
	}
	return path
}

// limitedBy names the limit that prevents a speed one unit higher on the block.
func (b *block) limitedBy(gear, whole int) string {
	p := b.p
	if p.units.WholeSpeed(b.ceilingMPS) <= whole {
		return b.ceilingBy
	}
	next := p.speed(whole + 1)
	if next+p.gainMPS(next, p.massKg) > p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)*(1+1e-9) {
		return catalog.LimitEngineSpeed
	}
	if p.wheelPower(gear, next).SustainedBound {
		return catalog.LimitSustained
	}
	return catalog.LimitRetarder
}
