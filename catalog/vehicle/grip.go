package vehicle

import (
	"math"

	"gradeline/catalog"
)

// Surfaces and the friction that tyres of the driven axles find on them, at the
// low end; all from memory, for truck tyres, wheels near locking.
var Surfaces = []struct {
	Name     string
	Friction float64
}{{"dry", 0.60}, {"wet", 0.35}, {"packed snow", 0.18}, {"ice", 0.08}}

// FrictionKeptShare is the part of a surface's friction that retarding may use:
// the rest is for curves, uneven wheel loads and the load that leaves the driven
// axles on a downgrade (no source: a bound).
const FrictionKeptShare = 2.0 / 3

// DryFriction is the friction above which retarding is excluded everywhere.
func DryFriction() float64 { return Surfaces[0].Friction * FrictionKeptShare }

// AllowedFriction is the friction that retarding may use on a surface of Surfaces.
func AllowedFriction(surface int) float64 { return Surfaces[surface].Friction * FrictionKeptShare }

// RetardedLoadKg is the mass that rests on the retarded axles when the truck has
// massKg: between the loads of the empty and the full truck in proportion, beyond
// them in proportion to the nearer one.
func (t *Truck) RetardedLoadKg(massKg float64) float64 {
	var full, empty, onFull, onEmpty float64
	for _, a := range t.Axles {
		full, empty = full+a.LoadKg, empty+a.EmptyKg
		if a.Retarded {
			onFull, onEmpty = onFull+a.LoadKg, onEmpty+a.EmptyKg
		}
	}
	switch {
	case full <= 0:
		return 0
	case empty <= 0 || empty >= full || massKg >= full:
		return massKg * onFull / full
	case massKg <= empty:
		return massKg * onEmpty / empty
	}
	return onEmpty + (massKg-empty)/(full-empty)*(onFull-onEmpty)
}

// AppliedForceN is the most that the retarders put on the retarded wheels when a
// stage, counted as in StageCount, is switched on in a gear at any speed from
// fromMPS to toMPS within the engine's band: the strongest retarder of the class at
// sea level, all of the driveline's losses added, a driveline retarder at its whole
// torque, since its coolant is still cold. This is the high end, for grip;
// WheelPower is the low end, for holding.
func (t *Truck) AppliedForceN(stage, gear int, fromMPS, toMPS float64) float64 {
	if stage <= 0 || gear < 1 || gear > len(t.GearRatios) || t.DrivelineEfficiency <= 0 {
		return 0
	}
	engineStages := t.engineStages()
	ratio := t.GearRatios[gear-1] * t.FinalDrive
	var sum float64
	for i := range t.Retarders {
		r := &t.Retarders[i]
		strongest := 1.0
		if r.StrongestPct > 0 {
			strongest = r.StrongestPct / 100
		}
		switch r.Kind {
		case EngineRetarder:
			c := r.Stages[min(stage, engineStages, len(r.Stages))-1]
			torqueNm := c.mostTorqueNm(t.RPMFromSpeed(gear, fromMPS), t.RPMFromSpeed(gear, toMPS))
			sum += strongest * torqueNm * ratio / t.RollingRadiusM
		case DrivelineRetarder:
			sum += strongest * r.TorqueLimitNm * r.shareAt(stage-engineStages) * t.FinalDrive / t.RollingRadiusM
		}
	}
	return sum / t.DrivelineEfficiency
}

// mostTorqueNm is the curve's highest torque between two engine speeds; beyond its
// ends that of the nearer end.
func (c Curve) mostTorqueNm(fromRPM, toRPM float64) float64 {
	if len(c) == 0 {
		return 0
	}
	torque := func(rpm float64) float64 {
		rpm = max(c[0].RPM, min(rpm, c[len(c)-1].RPM))
		return c.highPowerW(rpm) / rpm * 30 / math.Pi
	}
	most := max(torque(fromRPM), torque(toRPM))
	for _, p := range c {
		if p.RPM > fromRPM && p.RPM < toRPM {
			most = max(most, p.PowerW/p.RPM*30/math.Pi)
		}
	}
	return most
}

// highPowerW is PowerW with the higher of the two straight lines between points.
func (c Curve) highPowerW(rpm float64) float64 {
	for i := 1; i < len(c); i++ {
		if a, b := c[i-1], c[i]; rpm <= b.RPM {
			t := max(0, (rpm-a.RPM)/(b.RPM-a.RPM))
			return max(a.PowerW+t*(b.PowerW-a.PowerW), rpm*(a.PowerW/a.RPM+t*(b.PowerW/b.RPM-a.PowerW/a.RPM)))
		}
	}
	return c[len(c)-1].PowerW
}

// LeversAt are the settings of all retarding devices at a stage counted as in StageCount.
func (t *Truck) LeversAt(stage int) []catalog.Lever {
	out := []catalog.Lever{}
	engineStages := t.engineStages()
	for i := range t.Retarders {
		r := &t.Retarders[i]
		l := catalog.Lever{Retarder: r.label(), Kind: string(r.Kind)}
		switch r.Kind {
		case EngineRetarder:
			l.Stages = len(r.Stages)
			l.Stage = min(stage, l.Stages)
		case DrivelineRetarder:
			l.Stages = len(r.StageSharePct)
			l.Stage = min(max(0, stage-engineStages), l.Stages)
		}
		out = append(out, l)
	}
	return out
}

func (r *Retarder) label() string {
	switch {
	case r.Name != "":
		return r.Name
	case r.Kind == DrivelineRetarder:
		return "driveline retarder"
	}
	return "engine brake"
}
