package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// forces caches the retarder forces of one truck at whole speeds, by stage and gear. It depends on
// neither mass nor hill, so all variants of a problem, and all hills, share it.
type forces struct {
	truck    *vehicle.Truck
	units    catalog.Units
	air      vehicle.Air
	stages   []vehicle.StagedTruck
	governed []float64   // speed at the governed engine speed, by gear
	low      []int       // lowest whole speed kept, by gear
	offset   []int       // of a gear's first cell
	count    int         // cells of one stage
	running  [][]running // by whole speed
	power    []vehicle.WheelPower
	applied  []vehicle.WheelForce // NaN: not yet known
	isKnown  []bool               // of power
	least    []hand               // least forces from a whole speed up; the engine's NaN: not yet known
}

// running is a gear that turns the engine within its band at a whole speed, and the cell of both.
type running struct{ gear, cell int }

func newForces(p *problem) *forces {
	t := p.truck
	f := &forces{truck: t, units: p.units, air: p.slope.air, low: make([]int, t.GearCount()), offset: make([]int, t.GearCount()+1)}
	for s := range t.StageCount() + 1 {
		f.stages = append(f.stages, t.AtStage(s))
	}
	unit := p.units.SpeedUnitMPS()
	for g := 1; g <= t.GearCount(); g++ {
		f.governed = append(f.governed, t.SpeedFromRPM(g, t.EngineMaxRPM))
		lo := max(0, int(t.SpeedFromRPM(g, t.EngineMinRPM)/unit)-1)
		hi := int(f.governed[g-1]/unit) + 1
		f.low[g-1], f.offset[g] = lo, f.offset[g-1]+hi-lo+1
		f.running = append(f.running, make([][]running, max(0, hi+1-len(f.running)))...)
	}
	for g := t.GearCount(); g >= 1; g-- {
		for k := range f.offset[g] - f.offset[g-1] {
			if u := f.low[g-1] + k; t.HasEngineSpeed(g, f.speed(u)) {
				f.running[u] = append(f.running[u], running{g, f.offset[g-1] + k})
			}
		}
	}
	f.count = f.offset[t.GearCount()]
	n := f.count * (t.StageCount() + 1)
	f.power, f.isKnown, f.applied = make([]vehicle.WheelPower, n), make([]bool, n), make([]vehicle.WheelForce, n)
	for i := range f.applied {
		f.applied[i].DrivenN = math.NaN()
	}
	return f
}

// isFor reports whether the forces are those in some air.
func (f *forces) isFor(air vehicle.Air) bool { return f.truck.WorksAlikeIn(f.air, air) }

// moveTo forgets what depends on how thin the air is. The forces of a stage that is switched on
// depend on its temperature only.
func (f *forces) moveTo(air vehicle.Air) {
	f.air = air
	clear(f.isKnown)
	for i := range f.least {
		f.least[i].engineN = math.NaN()
	}
}

func (f *forces) speed(whole int) float64 { return float64(whole) * f.units.SpeedUnitMPS() }

// runningAt are the gears in which the truck can run at a whole speed, highest first.
func (f *forces) runningAt(whole int) []running {
	if whole >= len(f.running) {
		return nil
	}
	return f.running[whole]
}

// leastFrom is the least force that a stage gives at the wheels between a speed, rounded
// down to a whole one, and the governed speed.
func (f *forces) leastFrom(stage, gear int, speedMPS float64) hand {
	whole := int(speedMPS/f.units.SpeedUnitMPS() + 1e-9)
	i := f.cell(stage, gear, whole)
	if i < 0 {
		return hand{} // known to be zero there
	}
	if f.least == nil {
		f.least = make([]hand, len(f.applied))
		for i := range f.least {
			f.least[i].engineN = math.NaN()
		}
	}
	if math.IsNaN(f.least[i].engineN) {
		f.fillLeast(stage, gear, whole)
	}
	return f.least[i]
}

// fillLeast goes down from the governed speed, or from where it is known, to a whole speed. Below the
// engine's band the force is that of its low end.
func (f *forces) fillLeast(stage, gear, downTo int) {
	t, staged := f.truck, &f.stages[stage]
	var low hand
	include := func(v float64, w vehicle.WheelPower) {
		if t.HasEngineSpeed(gear, v) {
			low.engineN, low.drivelineN, low.recuperationN = min(low.engineN, w.EngineW/v), min(low.drivelineN, w.DrivelineW/v), min(low.recuperationN, w.RecuperationW/v)
		}
	}
	first := f.cell(stage, gear, f.low[gear-1])
	k := f.offset[gear] - f.offset[gear-1]
	for i := first + downTo - f.low[gear-1] + 1; i < first+k; i++ {
		if !math.IsNaN(f.least[i].engineN) {
			low, k = f.least[i], i-first
			break
		}
	}
	if k == f.offset[gear]-f.offset[gear-1] {
		low = hand{engineN: math.Inf(1), drivelineN: math.Inf(1), recuperationN: math.Inf(1)}
		include(f.governed[gear-1], staged.WheelPower(gear, f.governed[gear-1], f.air))
	}
	lowest := t.SpeedFromRPM(gear, t.EngineMinRPM)
	for k--; f.low[gear-1]+k >= downTo; k-- {
		whole := f.low[gear-1] + k
		include(f.speed(whole), f.powerAt(stage, gear, whole))
		if f.speed(whole) < lowest {
			include(lowest, staged.WheelPower(gear, lowest, f.air))
		}
		f.least[first+k] = low
	}
}

// cell is the place of a stage, gear and whole speed; −1 outside the engine's band.
func (f *forces) cell(stage, gear, whole int) int {
	k := whole - f.low[gear-1]
	if k < 0 || k >= f.offset[gear]-f.offset[gear-1] {
		return -1
	}
	return stage*f.count + f.offset[gear-1] + k
}

// powerAt is the power at the wheels of the unchanged retarder.
func (f *forces) powerAt(stage, gear, whole int) vehicle.WheelPower {
	i := f.cell(stage, gear, whole)
	if i < 0 {
		return vehicle.WheelPower{}
	}
	if !f.isKnown[i] {
		f.power[i], f.isKnown[i] = f.stages[stage].WheelPower(gear, f.speed(whole), f.air), true
	}
	return f.power[i]
}

// appliedAt is the force of a stage when it is switched on within the band below a speed.
func (f *forces) appliedAt(stage, gear, whole int) vehicle.WheelForce {
	v := f.speed(whole)
	i := f.cell(stage, gear, whole)
	if i < 0 {
		return f.truck.AppliedForce(stage, gear, bandLowMPS(f.truck, f.units, gear, v), v, f.air)
	}
	if math.IsNaN(f.applied[i].DrivenN) {
		f.applied[i] = f.truck.AppliedForce(stage, gear, bandLowMPS(f.truck, f.units, gear, v), v, f.air)
	}
	return f.applied[i]
}

// memo caches the heaviest mass by whole speed, gear and stage on one hill.
type memo struct {
	top   []heaviest // that a gear holds with the retarder at full power
	stage []heaviest // that a stage holds with its reserve, in the cells of forces
}

// clearedFor returns an empty memo in the place of an older one.
func (m *memo) clearedFor(f *forces) *memo {
	if len(m.top) != f.count || len(m.stage) != len(f.applied) {
		m.top, m.stage = make([]heaviest, f.count), make([]heaviest, len(f.applied))
		return m
	}
	clear(m.top)
	clear(m.stage)
	return m
}

// heaviest is a heaviest mass, as far as it is known.
type heaviest struct {
	kg      float64
	isAsked bool // it is kg, or no more than kg
	isKnown bool // it is kg
}

// rulesOut reports whether it is known that a mass is not held.
func (h heaviest) rulesOut(massKg float64) bool { return h.isAsked && h.kg < massKg }

// heaviestAtKg is heaviestKg at a whole speed, cached. Where that is below leastKg it may be some
// mass between the two.
func (p *problem) heaviestAtKg(whole, gear int, leastKg float64) float64 {
	if i := p.forces.cell(0, gear, whole); i >= 0 && p.truck.HasEngineSpeed(gear, p.speed(whole)) {
		return p.heaviestRunningKg(whole, running{gear, i}, leastKg)
	}
	return 0
}

// heaviestRunningKg is heaviestAtKg in a gear that turns the engine within its band.
func (p *problem) heaviestRunningKg(whole int, in running, leastKg float64) float64 {
	if p.isAskedOnce {
		return p.heaviestInBandKg(in.gear, p.speed(whole), p.forces.powerAt(p.topStage, in.gear, whole), leastKg)
	}
	m := &p.memo.top[in.cell]
	if !m.isKnown && !m.rulesOut(leastKg) {
		kg := p.heaviestInBandKg(in.gear, p.speed(whole), p.forces.powerAt(p.topStage, in.gear, whole), leastKg)
		*m = heaviest{kg, true, kg >= leastKg}
	}
	return m.kg
}

// holdsAt reports whether a gear holds a whole speed by power at the problem's mass.
func (p *problem) holdsAt(whole, gear int) bool {
	return p.heaviestAtKg(whole, gear, p.massKg) >= p.massKg
}

// stage is the lowest stage that holds a whole speed everywhere: 0 where no retarder is needed.
func (p *problem) stage(gear, whole int) int { return p.stageFor(gear, whole, p.massKg) }

// stageFor is stage for a mass.
func (p *problem) stageFor(gear, whole int, massKg float64) int {
	for s := range p.topStage {
		if p.heaviestOfStageKg(s, gear, whole, massKg) >= massKg {
			return s
		}
	}
	return p.topStage
}

// heaviestOfStageKg is heaviestByStageKg, cached.
func (p *problem) heaviestOfStageKg(stage, gear, whole int, leastKg float64) float64 {
	i := p.forces.cell(stage, gear, whole)
	if i < 0 {
		return 0
	}
	if p.isAskedOnce {
		return p.heaviestByStageKg(stage, gear, whole, leastKg)
	}
	m := &p.memo.stage[i]
	if !m.isKnown && !m.rulesOut(leastKg) {
		kg := p.heaviestByStageKg(stage, gear, whole, leastKg)
		*m = heaviest{kg, true, kg >= leastKg}
	}
	return m.kg
}

// heaviestByStageKg is the heaviest mass that a stage holds everywhere. Where that is below
// leastKg it may be some mass between the two.
func (p *problem) heaviestByStageKg(stage, gear, whole int, leastKg float64) float64 {
	v := p.speed(whole)
	late := p.lateMPS(gear, v)
	inHand := p.inHandOf(stage, gear, v)
	now := p.scaled(p.forces.powerAt(stage, gear, whole))
	return p.whileCharging(func(isCharging bool) float64 {
		in := inHand.charging(isCharging)
		kg := p.carriedKg(charging(now, isCharging), in, v, 1-p.reserve, leastKg)
		if kg < leastKg {
			return kg
		}
		then := p.scaled(p.forces.stages[stage].WheelPower(gear, late, p.slope.air))
		return min(kg, p.carriedKg(charging(then, isCharging), in, late, 1, leastKg))
	})
}
