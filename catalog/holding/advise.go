package holding

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Advise says what a class's truck can hold on a hill by its retarders alone.
//
// The speed is the highest whole mph or km/h that any gear holds, under every
// ceiling, in the highest gear that holds it; see the package's doc for what
// holding means. A hill that no gear holds is a result, not an error: Holds is
// false, and the missing power, the heaviest mass and the service brakes' heat
// say how far it is. Errors are for what cannot be answered: a mass above the
// class, a downgrade over 25 %, a gap in the grade line, an impossible class.
func Advise(h Hill, c vehicle.Class, o Options) (catalog.Hold, error) {
	p, err := newProblem(&h, &c, o)
	if err != nil {
		return catalog.Hold{}, err
	}
	out := catalog.Hold{
		Class: c.ID, MassKg: p.massKg, ReservePct: 100 * p.reserve,
		HeaviestMassKg: p.heaviestMassKg(),
		GearByM:        p.gearByM(),
		Defaults:       p.defaults(),
		Statuses:       p.statuses(),
		SurfacesOut:    []string{}, Heat: []catalog.HeatStation{},
		Limits: append(append([]catalog.SpeedCeiling{}, p.ceiling...), p.stopCeiling(p.massKg)),
	}
	whole, gear := p.best(p.massKg)
	if gear > 0 {
		p.held(&out, whole, gear)
	} else {
		p.notHeld(&out)
	}
	out.Gears = p.gears()
	out.Sensitivity = p.sensitivity()
	out.Cautions = p.cautions(&out)
	out.Words = catalog.Words{US: p.words(&out, catalog.US), Metric: p.words(&out, catalog.Metric)}
	return out, nil
}

func newProblem(h *Hill, c *vehicle.Class, o Options) (*problem, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	if err := checkHill(h); err != nil {
		return nil, err
	}
	bad := func(kind error, what, fix string) error {
		return &catalog.Fault{Kind: kind, Feature: "class " + c.ID, What: what, Fix: fix}
	}
	heatModel, err := Severity()
	if err != nil {
		return nil, err
	}
	p := &problem{heatModel: &heatModel, hill: h, class: c, truck: &c.Truck, opt: o, massKg: o.MassKg, reserve: c.Truck.ReservePct / 100}
	switch {
	case o.MassKg == 0:
		p.massKg = c.MassMaxKg
	case !(o.MassKg >= 1000):
		return nil, bad(catalog.ErrImpossible, fmt.Sprintf("%g kg is no mass of a truck", o.MassKg), "give its mass on the road")
	case o.MassKg > c.MassMaxKg*(1+1e-4): // beyond the rounding of pounds
		return nil, bad(catalog.ErrClass, fmt.Sprintf("%.0f kg is above the class's %.0f kg", o.MassKg, c.MassMaxKg), "choose a heavier class")
	}
	if o.ReservePct != 0 {
		if !(o.ReservePct >= 5 && o.ReservePct <= 60) {
			return nil, bad(catalog.ErrImpossible, fmt.Sprintf("a reserve of %g %%", o.ReservePct), "keep 5 to 60 % of the retarder in hand")
		}
		p.reserve = o.ReservePct / 100
	}
	if o.TempC != nil && !(*o.TempC >= vehicle.ColdestC && *o.TempC <= vehicle.HottestC) {
		return nil, bad(catalog.ErrImpossible, fmt.Sprintf("air at %g °C", *o.TempC), "give the air's temperature")
	}
	if a := o.altitudeM(); !(a >= vehicle.LowestM && a <= vehicle.HighestM) {
		return nil, bad(catalog.ErrImpossible, fmt.Sprintf("an altitude of %g m", a), "give the height above sea level")
	}
	if !(o.SightM >= 0) || math.IsInf(o.SightM, 1) {
		return nil, bad(catalog.ErrImpossible, fmt.Sprintf("a sight distance of %g m", o.SightM), "give the distance that the driver sees")
	}
	for _, l := range h.Limits {
		if !(l.SpeedMPS > 0) {
			return nil, bad(catalog.ErrImpossible, "a posted limit that is not above zero", "mend or remove the limit")
		}
	}
	spans := spansOf(h, WindowM, o.altitudeM(), true)
	if err := checkSteepest(h, spans); err != nil {
		return nil, err
	}
	p.spans, p.lead = spans, withAir(hardest(spans, true), o.TempC)
	p.pitch = withAir(hardest(spansOf(h, pitchM, o.altitudeM(), false), false), o.TempC)
	p.prepare()
	p.setCeilings()
	return p, nil
}

// held fills in an answer that holds.
func (p *problem) held(out *catalog.Hold, whole, gear int) {
	v := p.speed(whole)
	out.Holds, out.Gear, out.Ratio, out.SpeedMPS = true, gear, p.truck.GearRatios[gear-1], v
	out.EngineRPM = p.truck.RPMFromSpeed(gear, v)
	w := p.worst(gear, v, p.massKg)
	out.RetarderUsePct = 100 * math.Max(0, w.useShare)
	out.DemandPowerW = math.Max(0, w.demandW)
	out.AvailablePowerW = (1 - p.reserve) * w.availableW
	out.Stage = p.stage(gear, v)
	out.TimeS = p.hill.LengthM() / v
	out.FrictionNeeded = p.friction(v)
	out.SurfacesOut = surfacesOut(out.FrictionNeeded)
	out.LimitedBy = p.limitedBy(whole, gear, w)
	up := p.oneGearUp(gear, v)
	out.GearUp, out.OneGearUp = &up, up.Words(p.opt.Units)
	p.heat(out, gear, v)
}

// notHeld fills in an answer that doesn't.
func (p *problem) notHeld(out *catalog.Hold) {
	lackW, gear, v := p.missing(p.massKg)
	w := p.worst(gear, v, p.massKg)
	out.MissingPowerW = lackW
	out.DemandPowerW = math.Max(0, w.demandW)
	out.AvailablePowerW = (1 - p.reserve) * w.availableW
	out.FrictionNeeded = p.friction(v)
	out.SurfacesOut = surfacesOut(out.FrictionNeeded)
	out.LimitedBy = catalog.LimitNothing
	if !p.grips {
		out.LimitedBy = catalog.LimitFriction
		out.MissingPowerW = p.ungrippedW(v)
	} else if lackW <= 0 {
		out.LimitedBy = p.binding(p.massKg).Reason
	}
	p.heat(out, gear, v)
}

// stage is the lowest stage that holds the speed everywhere: 0 where the
// retarder has nothing to do.
func (p *problem) stage(gear int, speedMPS float64) int {
	top := p.truck.StageCount()
	for s := 0; s < top; s++ {
		w := p.truck.WheelPower(s, gear, speedMPS, p.opt.TempC)
		if p.carries(w, speedMPS) {
			return s
		}
	}
	return top
}

// carries reports whether a power at the wheels holds the speed everywhere.
func (p *problem) carries(w vehicle.WheelPower, v float64) bool {
	for _, s := range p.long {
		if (p.massKg*s.pullMPS2-s.dragKgPerM*v*v)*v > (1-p.reserve)*w.AtW(s.engineShare) {
			return false
		}
	}
	for _, s := range p.short {
		if (p.massKg*s.pullMPS2-s.dragKgPerM*v*v)*v > w.AtW(s.engineShare) {
			return false
		}
	}
	return true
}

// limitedBy names what keeps the speed from being one whole unit higher.
func (p *problem) limitedBy(whole, gear int, w load) string {
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
	if p.truck.RPMFromSpeed(gear, p.speed(whole+1)) > p.truck.EngineMaxRPM*(1+1e-9) {
		return catalog.LimitEngineSpeed
	}
	if next := p.wheelPower(gear, p.speed(whole+1)); next.SustainedBound {
		return catalog.LimitSustained
	}
	return catalog.LimitRetarder
}

// gearByM is the station before which the gear must be in: the crest, less the
// bound of where it lies; not before the route begins.
func (p *problem) gearByM() float64 {
	at := p.hill.RouteStationM(-p.hill.StartErrM)
	if p.hill.RouteM > 0 {
		at = math.Max(0, math.Min(at, p.hill.RouteM))
	}
	if p.hill.Plain {
		return 0
	}
	return at
}
