package holding

import (
	"math"

	"gradeline/catalog/vehicle"
)

// forces caches the retarder forces of one truck at whole speeds, by stage and gear. It depends on
// neither mass nor hill, so all variants of a problem share it.
type forces struct {
	p       *problem // for truck, temperature and unit
	low     []int    // lowest whole speed kept, by gear
	offset  []int    // of a gear's first cell
	count   int      // cells of one stage
	power   []vehicle.WheelPower
	applied []vehicle.WheelForce // NaN: not yet known
	isKnown []bool               // of power
	least   []hand               // least forces from a whole speed up; the engine's NaN: not yet known
}

func newForces(p *problem) *forces {
	t := p.truck
	f := &forces{p: p, low: make([]int, t.GearCount()), offset: make([]int, t.GearCount()+1)}
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

// leastFrom is the least force that a stage gives at the wheels between a speed, rounded
// down to a whole one, and the governed speed.
func (f *forces) leastFrom(stage, gear int, speedMPS float64) hand {
	if f.least == nil {
		f.least = make([]hand, len(f.applied))
		for i := range f.least {
			f.least[i].engineN = math.NaN()
		}
	}
	i := f.cell(stage, gear, int(speedMPS/f.p.units.SpeedUnitMPS()+1e-9))
	if i < 0 {
		return hand{} // nothing is known to be had there
	}
	if math.IsNaN(f.least[i].engineN) {
		f.fillLeast(stage, gear)
	}
	return f.least[i]
}

// fillLeast goes down from the governed speed. Below the engine's band the force is that
// of its low end.
func (f *forces) fillLeast(stage, gear int) {
	t := f.p.truck
	low := hand{engineN: math.Inf(1), drivelineN: math.Inf(1), recuperationN: math.Inf(1)}
	include := func(v float64) {
		if t.HasEngineSpeed(gear, v) {
			w := t.WheelPower(stage, gear, v, f.p.opt.TempC)
			low.engineN, low.drivelineN, low.recuperationN = min(low.engineN, w.EngineW/v), min(low.drivelineN, w.DrivelineW/v), min(low.recuperationN, w.RecuperationW/v)
		}
	}
	include(t.SpeedFromRPM(gear, t.EngineMaxRPM))
	for k := f.offset[gear] - f.offset[gear-1] - 1; k >= 0; k-- {
		whole := f.low[gear-1] + k
		include(f.p.speed(whole))
		if f.p.speed(whole) < t.SpeedFromRPM(gear, t.EngineMinRPM) {
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
		f.power[i], f.isKnown[i] = f.p.truck.WheelPower(stage, gear, f.p.speed(whole), f.p.opt.TempC), true
	}
	return f.power[i]
}

// appliedAt is the force of a stage when it is switched on within the band below a speed.
func (f *forces) appliedAt(stage, gear, whole int) vehicle.WheelForce {
	v := f.p.speed(whole)
	i := f.cell(stage, gear, whole)
	if i < 0 {
		return f.p.truck.AppliedForce(stage, gear, f.p.bandLowMPS(gear, v), v)
	}
	if math.IsNaN(f.applied[i].DrivenN) {
		f.applied[i] = f.p.truck.AppliedForce(stage, gear, f.p.bandLowMPS(gear, v), v)
	}
	return f.applied[i]
}

// memo is the heaviest mass by whole speed, gear and stage on one hill; NaN not yet known.
type memo struct {
	top   []float64 // that a gear holds with the retarder at full power
	stage []float64 // that a stage holds with its reserve, in the cells of forces
}

func newMemo(p *problem) *memo {
	m := &memo{top: make([]float64, p.forces.count), stage: make([]float64, len(p.forces.applied))}
	for i := range m.top {
		m.top[i] = math.NaN()
	}
	for i := range m.stage {
		m.stage[i] = math.NaN()
	}
	return m
}

// heaviestAt is heaviestKg at a whole speed, cached.
func (p *problem) heaviestAt(whole, gear int) float64 {
	i := p.forces.cell(0, gear, whole)
	if i < 0 {
		return 0
	}
	if p.memo == nil {
		p.memo = newMemo(p)
	}
	if math.IsNaN(p.memo.top[i]) {
		p.memo.top[i] = p.heaviestKg(gear, p.speed(whole))
	}
	return p.memo.top[i]
}

// stage is the lowest stage that holds a whole speed everywhere: 0 where no retarder is needed.
func (p *problem) stage(gear, whole int) int {
	top := p.truck.StageCount()
	for s := range top {
		if p.heaviestByStage(s, gear, whole) >= p.massKg {
			return s
		}
	}
	return top
}

// heaviestByStage is the heaviest mass that a stage holds everywhere, cached.
func (p *problem) heaviestByStage(stage, gear, whole int) float64 {
	i := p.forces.cell(stage, gear, whole)
	if i < 0 {
		return 0
	}
	if p.memo == nil {
		p.memo = newMemo(p)
	}
	if math.IsNaN(p.memo.stage[i]) {
		v := p.speed(whole)
		late := p.lateMPS(gear, v)
		in := p.inHandOf(stage, gear, v)
		now, then := p.scaled(p.forces.powerAt(stage, gear, whole)), p.scaled(p.truck.WheelPower(stage, gear, late, p.opt.TempC))
		p.memo.stage[i] = p.whileCharging(func(isCharging bool) float64 {
			in := in.charging(isCharging)
			return min(p.carriedKg(charging(now, isCharging), in, v, 1-p.reserve), p.carriedKg(charging(then, isCharging), in, late, 1))
		})
	}
	return p.memo.stage[i]
}
