package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Advise says what a class's truck can hold on a hill by its retarders alone.
//
// The speed is the highest whole mph or km/h, in the unit of the class's country,
// that any gear holds under every ceiling; see the package's doc for what holding
// means. Of the gears that hold it the answer names one that turns at 1,650 rpm or
// more where there is one, then the one that excludes the fewest road surfaces, then
// the one that leaves the largest reserve.
//
// A hill that no gear holds is a result, not an error: Holds is false, and the
// missing power, the heaviest mass and the service brakes' heat say how far it is.
// Errors are for what cannot be answered: a mass above the class, a downgrade over
// 25 %, a gap in the grade line, an impossible class.
func Advise(h Hill, c vehicle.Class, o Options) (catalog.Hold, error) {
	return NewAdviser(h).Advise(c, o)
}

func (p *problem) advise() catalog.Hold {
	c := p.class
	out := catalog.Hold{
		Class: c.ID, ClassFigures: p.figures, MassKg: p.massKg, MassLightKg: p.lightKg, ReservePct: 100 * p.reserve,
		Defaults:    p.defaults(),
		Statuses:    p.statuses(),
		SurfacesOut: []string{}, Heat: []catalog.HeatStation{}, Levers: []catalog.Lever{}, Stretches: []catalog.HoldStretch{},
		Limits: p.limits(),
		Charge: p.charge(), Weather: p.opt.weather(),
	}
	whole, at := p.best()
	out.HeaviestMassKg = p.heaviestMassKg(at.gear > 0)
	if at.gear > 0 {
		p.held(&out, whole, at)
	} else {
		p.notHeld(&out)
	}
	p.setPlaces(&out)
	out.Gears = p.gears()
	out.Sensitivity = p.sensitivity()
	p.setCautions(&out)
	out.Words = catalog.Words{US: p.words(&out, catalog.US), Metric: p.words(&out, catalog.Metric)}
	return out
}

func newProblem(h *Hill, c *vehicle.Class, o Options) (*problem, error) {
	return NewAdviser(*h).newProblem(c, &fleetTruck{}, o)
}

func (a *Adviser) newProblem(c *vehicle.Class, t *fleetTruck, o Options) (*problem, error) {
	h := &a.hill
	if !t.isValid {
		if err := c.Validate(); err != nil {
			return nil, err
		}
		t.isValid = true
	}
	if a.err != nil {
		return nil, a.err
	}
	if err := checkOptions(&o, c); err != nil {
		return nil, err
	}
	heatModel, err := Severity()
	if err != nil {
		return nil, err
	}
	p := &problem{heatModel: &heatModel, hill: h, class: c, truck: &c.Truck, topStage: c.Truck.StageCount(), opt: o, units: c.Units, massKg: o.MassKg, lightKg: o.MassKg, tailMPS: o.tailwindMPS(), reserve: c.Truck.ReservePct / 100}
	if o.MassKg == 0 {
		p.massKg, p.lightKg = c.MassMaxKg, c.MassMinKg
	}
	if o.ReservePct != 0 {
		p.reserve = o.ReservePct / 100
	}
	for _, l := range h.Limits {
		if !(l.SpeedMPS > 0) {
			return nil, &catalog.Fault{Kind: catalog.ErrImpossible, Feature: "class " + c.ID, What: "a posted limit that is not above zero", Fix: "correct or remove the limit"}
		}
	}
	if p.slope, err = a.slopeFor(&o); err != nil {
		return nil, err
	}
	p.leastEngineShare = p.engineShareAt(p.slope.highestM())
	switch {
	case t.forces == nil || !t.forces.air.IsOfTemps(p.slope.air):
		t.forces = newForces(p)
	case !t.forces.isFor(p.slope.air):
		t.forces.moveTo(p.slope.air)
	}
	p.forces, p.figures, p.scratch = t.forces, t.figures, &a.scratch
	p.memo = t.memo.clearedFor(t.forces)
	p.prepare()
	p.setCeilings()
	return p, nil
}

// held fills in an answer that holds.
func (p *problem) held(out *catalog.Hold, whole int, at choice) {
	v, gear := p.speed(whole), at.gear
	out.Holds, out.Gear, out.Ratio, out.SpeedMPS = true, gear, p.truck.GearRatios[gear-1], v
	out.GearName = p.truck.GearName(gear)
	out.EngineRPM = p.truck.RPMFromSpeed(gear, v)
	w := p.worst(gear, v, p.massKg)
	out.RetarderUsePct = 100 * max(0, w.useShare)
	out.DemandPowerW = max(0, w.demandW)
	out.AvailablePowerW = w.limitShare * w.availableW
	out.Levers = p.truck.LeversAt(at.stage)
	if len(out.Levers) > 0 {
		out.Stage = out.Levers[0].Stage
	}
	if at.stage > 0 {
		out.SpeedLowMPS = bandLowMPS(p.truck, p.units, gear, v)
	}
	out.FrictionNeeded = p.frictionNeeded(v, p.massKg)
	out.MassLightKg, p.chosen = at.lightKg, at.applied
	out.FrictionApplied = p.frictionOf(at.applied, at.lightKg)
	out.Surfaces, out.SurfacesOut = surfaceAnswers(out.FrictionApplied)
	out.LimitedBy = p.limitedBy(whole, at, w)
	out.Stretches, out.TimeS = p.stretches(whole, at)
	recovery := p.recoveryMPS(gear, v)
	out.RecoverySpeedMPS = &recovery
	up := p.oneGearUp(gear, v)
	out.GearUp, out.OneGearUp = &up, up.Words(p.units)
	p.heat(out, gear, v)
}

// notHeld fills in an answer that doesn't hold.
func (p *problem) notHeld(out *catalog.Hold) {
	out.MassLightKg = p.massKg // surfaces are judged for the mass that is not held
	lackW, gear, v := p.missing(p.massKg)
	p.lackGear, p.lackMPS = gear, v
	w := p.worst(gear, v, p.massKg)
	out.MissingPowerW = lackW
	out.DemandPowerW = max(0, w.demandW)
	out.AvailablePowerW = w.limitShare * w.availableW
	out.FrictionNeeded = p.frictionNeeded(v, p.massKg)
	out.LimitedBy = catalog.LimitNothing
	if p.isGripLimited(v, lackW) {
		out.LimitedBy = catalog.LimitFriction
		out.MissingPowerW = max(0, p.ungrippedW(v))
		if least := p.leastApplied(); !math.IsInf(least, 1) {
			out.FrictionApplied = least
		}
	} else if lackW <= 0 {
		out.LimitedBy = catalog.LimitEngineSpeed // in the second in which a stage begins to work
		if low := p.binding(p.massKg); low.SpeedMPS < p.truck.SpeedFromRPM(1, p.truck.EngineMinRPM)+p.units.SpeedUnitMPS() {
			out.LimitedBy = low.Reason
		}
	}
	out.Surfaces, out.SurfacesOut = surfaceAnswers(max(out.FrictionNeeded, out.FrictionApplied))
	p.heat(out, gear, v)
}

// limitedBy names the limit that prevents a speed one whole unit higher.
func (p *problem) limitedBy(whole int, at choice, w load) string {
	if at.hasSlid {
		return catalog.LimitFriction
	}
	if p.wholeUnder(p.massKg) <= whole {
		top := p.truck.SpeedFromRPM(p.truck.GearCount(), p.truck.EngineMaxRPM)
		low := p.binding(p.massKg)
		switch {
		case w.demandW <= 0:
			return catalog.LimitFreeRolling
		case top < low.SpeedMPS:
			return catalog.LimitEngineSpeed
		}
		return low.Reason
	}
	next := p.speed(whole + 1)
	highest := 0 // the highest gear that holds the advised speed
	for g := 1; g <= p.truck.GearCount(); g++ {
		if p.holdsAt(whole, g) {
			highest = g
		}
	}
	if next+p.gainMPS(next, p.massKg) > p.truck.SpeedFromRPM(highest, p.truck.EngineMaxRPM)*(1+1e-9) {
		return catalog.LimitEngineSpeed
	}
	if p.wheelPower(highest, next).SustainedBound {
		return catalog.LimitSustained
	}
	return catalog.LimitRetarder
}
