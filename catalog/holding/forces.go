package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// forces caches the retarder forces of one truck at whole speeds, by stage and gear. It depends on
// neither mass nor hill, so all variants of a problem, and all hills, share it.
type forces struct {
	truck   *vehicle.Truck
	units   catalog.Units
	air     vehicle.Air
	low     []int // lowest whole speed kept, by gear
	offset  []int // of a gear's first cell
	count   int   // cells of one stage
	power   []vehicle.WheelPower
	applied []vehicle.WheelForce // NaN: not yet known
	isKnown []bool               // of power
	least   []hand               // least forces from a whole speed up; the engine's NaN: not yet known
}

func newForces(p *problem) *forces {
	t := p.truck
	f := &forces{truck: t, units: p.units, air: p.slope.air, low: make([]int, t.GearCount()), offset: make([]int, t.GearCount()+1)}
	unit := p.units.SpeedUnitMPS()
	for g := 1; g <= t.GearCount(); g++ {
		lo := max(0, int(t.SpeedFromRPM(g, t.EngineMinRPM)/unit)-1)
		hi := int(t.SpeedFromRPM(g, t.EngineMaxRPM)/unit) + 1
		f.low[g-1], f.offset[g] = lo, f.offset[g-1]+hi-lo+1
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

func (f *forces) speed(whole int) float64 { return float64(whole) * f.units.SpeedUnitMPS() }

// leastFrom is the least force that a stage gives at the wheels between a speed, rounded
// down to a whole one, and the governed speed.
func (f *forces) leastFrom(stage, gear int, speedMPS float64) hand {
	if f.least == nil {
		f.least = make([]hand, len(f.applied))
		for i := range f.least {
			f.least[i].engineN = math.NaN()
		}
	}
	i := f.cell(stage, gear, int(speedMPS/f.units.SpeedUnitMPS()+1e-9))
	if i < 0 {
		return hand{} // known to be zero there
	}
	if math.IsNaN(f.least[i].engineN) {
		f.fillLeast(stage, gear)
	}
	return f.least[i]
}

// fillLeast goes down from the governed speed. Below the engine's band the force is that
// of its low end.
func (f *forces) fillLeast(stage, gear int) {
	t := f.truck
	low := hand{engineN: math.Inf(1), drivelineN: math.Inf(1), recuperationN: math.Inf(1)}
	include := func(v float64) {
		if t.HasEngineSpeed(gear, v) {
			w := t.WheelPower(stage, gear, v, f.air)
			low.engineN, low.drivelineN, low.recuperationN = min(low.engineN, w.EngineW/v), min(low.drivelineN, w.DrivelineW/v), min(low.recuperationN, w.RecuperationW/v)
		}
	}
	include(t.SpeedFromRPM(gear, t.EngineMaxRPM))
	for k := f.offset[gear] - f.offset[gear-1] - 1; k >= 0; k-- {
		whole := f.low[gear-1] + k
		include(f.speed(whole))
		if f.speed(whole) < t.SpeedFromRPM(gear, t.EngineMinRPM) {
			include(t.SpeedFromRPM(gear, t.EngineMinRPM))
		}
		f.least[f.cell(stage, gear, whole)] = low
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
		f.power[i], f.isKnown[i] = f.truck.WheelPower(stage, gear, f.speed(whole), f.air), true
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

// heaviest is a heaviest mass, as far as it is known.
type heaviest struct {
	kg      float64
	isAsked bool // it is kg, or no more than kg
	isKnown bool // it is kg
}

// rulesOut reports whether it is known that a mass is not held.
func (h heaviest) rulesOut(massKg float64) bool { return h.isAsked && h.kg < massKg }

func newMemo(p *problem) *memo {
	return &memo{top: make([]heaviest, p.forces.count), stage: make([]heaviest, len(p.forces.applied))}
}

// heaviestAtKg is heaviestKg at a whole speed, cached. Where that is below leastKg it may be some
// mass between the two.
func (p *problem) heaviestAtKg(whole, gear int, leastKg float64) float64 {
	i := p.forces.cell(0, gear, whole)
	if i < 0 {
		return 0
	}
	if p.isAskedOnce {
		return p.heaviestFromKg(gear, p.speed(whole), p.forces.powerAt(p.topStage, gear, whole), leastKg)
	}
	if p.memo == nil {
		p.memo = newMemo(p)
	}
	m := &p.memo.top[i]
	if !m.isKnown && !m.rulesOut(leastKg) {
		kg := p.heaviestFromKg(gear, p.speed(whole), p.forces.powerAt(p.topStage, gear, whole), leastKg)
		*m = heaviest{kg, true, kg >= leastKg}
	}
	return m.kg
}

// holdsAt reports whether a gear holds a whole speed by power at the problem's mass.
func (p *problem) holdsAt(whole, gear int) bool {
	return p.heaviestAtKg(whole, gear, p.massKg) >= p.massKg
}

// stage is the lowest stage that holds a whole speed everywhere: 0 where no retarder is needed.
func (p *problem) stage(gear, whole int) int {
	top := p.topStage
	for s := range top {
		if p.holdsByStage(s, gear, whole) {
			return s
		}
	}
	return top
}

// holdsByStage reports whether a stage holds the problem's mass everywhere; cached.
func (p *problem) holdsByStage(stage, gear, whole int) bool {
	i := p.forces.cell(stage, gear, whole)
	if i < 0 {
		return p.massKg <= 0
	}
	if p.isAskedOnce {
		return p.heaviestByStageKg(stage, gear, whole, p.massKg) >= p.massKg
	}
	if p.memo == nil {
		p.memo = newMemo(p)
	}
	m := &p.memo.stage[i]
	if !m.isKnown && !m.rulesOut(p.massKg) {
		kg := p.heaviestByStageKg(stage, gear, whole, p.massKg)
		*m = heaviest{kg, true, kg >= p.massKg}
	}
	return m.kg >= p.massKg
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
		then := p.scaled(p.truck.WheelPower(stage, gear, late, p.slope.air))
		return min(kg, p.carriedKg(charging(then, isCharging), in, late, 1, leastKg))
	})
}
