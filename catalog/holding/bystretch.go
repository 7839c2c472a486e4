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
	ceilingBy   string
	firstGear   int   // the advised one
	sureWhole   int   // that the advised gear holds everywhere
	wholeByGear []int // highest whole speed by gear from the advised one on; 0 where none holds
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
	path := p.fastestPath(blocks, at.gear)
	speeds, isHeldBack := p.slowInTime(blocks, path, whole, at)
	var out []catalog.HoldStretch
	timeS := 0.0
	for i := range blocks {
		b := &blocks[i]
		gear, v := path[i], p.speed(speeds[i])
		timeS += (b.toM - b.fromM) / v
		s := catalog.HoldStretch{FromM: p.hill.RouteStationM(b.fromM), ToM: p.hill.RouteStationM(b.toM), Gear: gear, GearName: p.truck.GearName(gear),
			Levers: p.truck.LeversAt(b.p.stage(gear, speeds[i])), SpeedMPS: v, LimitedBy: b.limitedBy(gear, speeds[i])}
		if isHeldBack[i] && i+1 < len(blocks) {
			s.LimitedBy = blocks[i+1].limitedBy(path[i+1], speeds[i+1]) // the next speed
		}
		if n := len(out); n > 0 && out[n-1].Gear == s.Gear && out[n-1].SpeedMPS == s.SpeedMPS && slices.Equal(out[n-1].Levers, s.Levers) {
			out[n-1].ToM = s.ToM
			continue
		}
		out = append(out, s)
	}
	return out, timeS
}

// blocks is the hill's pieces, each with its own ceilings.
func (p *problem) blocks() []block {
	grounds := p.slope.blocks()
	out := make([]block, len(grounds))
	for i := range out {
		b, g := &out[i], &grounds[i]
		b.fromM, b.toM = g.fromM, g.toM
		q := *p
		q.memo, q.isAskedOnce = nil, true
		q.long = make([]stretch, len(g.long))
		for k := range g.long {
			q.long[k] = forceOf(g.long[k], p.v.gradePct, p.truck)
		}
		q.short = []stretch{forceOf(g.short, p.v.gradePct, p.truck)}
		q.sudden = []stretch{forceOf(g.jolt, p.v.gradePct, p.truck)}
		q.mostPull = mostPullMPS2(q.long, q.short, q.sudden)
		b.p = &q
		b.ceilingMPS, b.ceilingBy = p.ceilingOn(g)
	}
	return out
}

// ceilingOn is the lowest ceiling on a piece of the hill: a posted limit and a curve count where
// they are, all others everywhere.
func (p *problem) ceilingOn(g *ground) (speedMPS float64, by string) {
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
	if !math.IsInf(g.radiusM, 1) {
		v, _ := vehicle.CurveSpeedMPS(g.radiusM, p.class.CurveRolloverShare())
		lower(v, catalog.LimitCurve)
	}
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
	b.firstGear, b.sureWhole = at.gear, whole
	b.wholeByGear = make([]int, min(gearsTried, t.GearCount()-at.gear)+1)
	for k := range b.wholeByGear {
		gear := at.gear + k
		top := b.p.units.WholeSpeed(min(b.ceilingMPS, t.SpeedFromRPM(gear, t.EngineMaxRPM)))
		for u := top; u > whole && t.HasEngineSpeed(gear, b.p.speed(u)); u-- {
			if !b.p.isCarried(gear, u) {
				continue
			}
			applied := b.p.forces.appliedAt(b.p.stage(gear, u), gear, u)
			if b.p.frictionOf(applied, at.lightKg) <= mostFriction {
				b.wholeByGear[k] = u
				break
			}
		}
	}
	if b.wholeByGear[0] < whole+worthUnits {
		b.wholeByGear[0] = whole
	}
}

// fastestPath is the gear of each block that gets the truck down in the least time, with shiftCostS
// for each shift, over safe shifts only.
func (p *problem) fastestPath(blocks []block, gear int) []int {
	gears := len(blocks[0].wholeByGear)
	cost := make([][]float64, len(blocks))
	from := make([][]int, len(blocks))
	for i := range blocks {
		cost[i], from[i] = make([]float64, gears), make([]int, gears)
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
				if c < cost[i][k] && (j == k || p.canShift(&blocks[i-1], &blocks[i], gear+j, gear+k)) {
					cost[i][k], from[i][k] = c, j
				}
			}
		}
	}
	path := make([]int, len(blocks))
	k := 0
	for j := range gears {
		if cost[len(blocks)-1][j] < cost[len(blocks)-1][k] {
			k = j
		}
	}
	for i := len(blocks) - 1; i >= 0; i-- {
		path[i] = gear + k
		k = from[i][k]
	}
	return path
}

// canShift reports whether the truck may shift between two blocks: at the slower one's
// speed both gears turn the engine within its band, and after outOfGearS without any
// retardation the new gear still turns it below its governed speed.
func (p *problem) canShift(a, b *block, from, to int) bool {
	low := min(a.wholeAt(from), b.wholeAt(to))
	if low == noSpeedWhole {
		return false
	}
	v := p.speed(low)
	gains := 0.0
	for _, q := range []*problem{a.p, b.p} {
		gains = max(gains, q.gainMPS(v, q.massKg)/delayS*outOfGearS)
	}
	return p.truck.HasEngineSpeed(from, v) && p.truck.HasEngineSpeed(to, v) &&
		v+gains <= p.truck.SpeedFromRPM(to, p.truck.EngineMaxRPM)
}

// wholeAt is the block's highest whole speed in a gear.
func (b *block) wholeAt(gear int) int { return b.wholeByGear[gear-b.firstGear] }

// slowInTime lowers speeds so that the part of the retarder that the block itself does
// not need slows the truck to the next one's speed within the block. Where no speed in
// between holds, the advised gear at the advised speed holds everywhere.
func (p *problem) slowInTime(blocks []block, path []int, whole int, at choice) (speeds []int, isHeldBack []bool) {
	speeds, isHeldBack = make([]int, len(blocks)), make([]bool, len(blocks))
	for i := len(blocks) - 1; i >= 0; i-- {
		speeds[i] = blocks[i].wholeAt(path[i])
		if i == len(blocks)-1 {
			continue
		}
		slowest := speeds[i+1]
		if path[i] != path[i+1] { // both gears turn in their band at the shift
			slowest = min(slowest, blocks[i].wholeAt(path[i]), blocks[i+1].wholeAt(path[i+1]))
		}
		if u := blocks[i].fastestBefore(path[i], speeds[i], slowest); u < speeds[i] {
			speeds[i], isHeldBack[i] = u, true
		}
		if speeds[i] == noSpeedWhole {
			for k := range path {
				path[k] = at.gear
				blocks[k].wholeByGear[0] = whole
			}
			return p.slowInTime(blocks, path, whole, at)
		}
	}
	return speeds, isHeldBack
}

// fastestBefore is the highest whole speed up to top from which the block's spare
// retarder slows the truck to the next speed by its end, and which the gear holds; the
// next speed itself where that holds; 0 where none does.
func (b *block) fastestBefore(gear, top, next int) int {
	p := b.p
	for u := top; u > next; u-- {
		v := p.speed(u)
		if u > b.sureWhole && !p.isCarried(gear, u) {
			continue
		}
		spare := math.Inf(1)
		for _, w := range []float64{v, p.speed(next)} { // the weaker end
			power := p.wheelPower(gear, w)
			for i := range p.long {
				s := &p.long[i]
				demandN := p.massKg*s.pullMPS2 - p.airflowAt(w).dragN(s)
				spare = min(spare, ((1-p.reserve)*power.AtW(s.engineShare)/w-demandN)/p.massKg)
			}
		}
		if v*v <= p.speed(next)*p.speed(next)+2*max(0, spare)*(b.toM-b.fromM) {
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
