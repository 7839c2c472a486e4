package vehicle

import (
	"math"

	"gradeline/catalog"
)

// Surfaces and their friction under the tyres of the driven axles, at the low end; all from memory,
// for truck tyres, wheels near locking.
var Surfaces = []struct {
	Name     string
	Friction float64
}{{"dry", 0.60}, {"wet", 0.35}, {"packed snow", 0.18}, {"ice", 0.08}}

// FrictionKeptShare is the part of a surface's friction that retarding may use: the
// rest is for curves, uneven wheel loads and the shift of load off the driven axles on
// a downgrade (no source: a bound).
const FrictionKeptShare = 2.0 / 3

// DryFriction is the friction above which retarding is excluded everywhere.
func DryFriction() float64 { return Surfaces[0].Friction * FrictionKeptShare }

// AllowedFriction is the friction that retarding may use on a surface of Surfaces.
func AllowedFriction(surface int) float64 { return Surfaces[surface].Friction * FrictionKeptShare }

// RetardedLoadKg is the mass that rests on the retarded axles when the truck has
// massKg: between the loads of the empty and the full truck in proportion, beyond
// them in proportion to the nearer one. Axles of a trailer's own retarder are not among
// them: see TrailerLoadKg.
func (t *Truck) RetardedLoadKg(massKg float64) float64 { return t.loadKg(massKg, true) }

// TrailerLoadKg is the mass that rests on the axles of the trailer's own retarder.
func (t *Truck) TrailerLoadKg(massKg float64) float64 { return t.loadKg(massKg, false) }

// loadKg is the mass on the retarded axles that are driven, or that are not.
func (t *Truck) loadKg(massKg float64, isDriven bool) float64 {
	var full, empty, onFull, onEmpty float64
	for _, a := range t.Axles {
		full, empty = full+a.LoadKg, empty+a.EmptyKg
		if a.Retarded && a.Driven == isDriven {
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

// DragHighShare is the most that an engine's drag may be over its curve, which is the
// low end: cold oil, fan and compressor at work (from memory).
const DragHighShare = 1.5

// WheelForce is the force of retarders on the wheels, by axles.
type WheelForce struct {
	DrivenN  float64 // through the driveline, on the driven axles
	TrailerN float64 // on the axles of the trailer's own retarder
}

// AppliedForce is the greatest force of the retarders on the retarded wheels when a
// stage, counted as in StageCount, is switched on in a gear, at any speed from fromMPS
// to toMPS within the engine's band. It is that of the strongest retarder of the class
// at sea level and in the air's cold, with all of the driveline's losses added. A
// driveline retarder has its full torque, since its coolant is still cold, and
// recuperation works at any charge of the battery. This is the high end, for grip;
// WheelPower is the low end, for holding.
func (t *Truck) AppliedForce(stage, gear int, fromMPS, toMPS float64, air Air) WheelForce {
	var out WheelForce
	if stage < 0 || gear < 1 || gear > len(t.GearRatios) || t.DrivelineEfficiency <= 0 {
		return out
	}
	fromRPM, toRPM := t.RPMFromSpeed(gear, fromMPS), t.RPMFromSpeed(gear, toMPS)
	ratio := t.GearRatios[gear-1] * t.FinalDrive
	shaftNm := 0.0 // on the wheels' shaft
	if !t.hasEngineBrake() {
		shaftNm = DragHighShare * t.EngineDrag.mostTorqueNm(fromRPM, toRPM) * ratio
	}
	for i := range t.Retarders {
		r := &t.Retarders[i]
		own := t.ownStage(r.Kind, stage)
		if own == 0 {
			continue
		}
		strongest := math.Max(1, r.StrongestPct/100)
		switch r.Kind {
		case EngineRetarder:
			shaftNm += strongest * air.engineAirShare() * r.Stages[min(own, len(r.Stages))-1].mostTorqueNm(fromRPM, toRPM) * ratio
		case DrivelineRetarder:
			shaftNm += strongest * r.TorqueLimitNm * r.shareAt(own) * t.FinalDrive
		case Recuperation:
			shaftNm += strongest * r.TorqueLimitNm * r.shareAt(own) * ratio
		case TrailerRetarder:
			out.TrailerN += strongest * r.TorqueLimitNm * r.shareAt(own) / t.RollingRadiusM
		}
	}
	out.DrivenN = shaftNm / t.RollingRadiusM / max(0.5, 1-air.lossTimes()*(1-t.DrivelineEfficiency))
	return out
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
// A truck without a retarder has one entry for the engine's drag, with no stage.
func (t *Truck) LeversAt(stage int) []catalog.Lever {
	if len(t.Retarders) == 0 {
		return []catalog.Lever{catalog.EngineDragLever()}
	}
	out := []catalog.Lever{}
	for i := range t.Retarders {
		r := &t.Retarders[i]
		l := catalog.Lever{Retarder: r.label(), Kind: string(r.Kind), Stages: r.stageCount()}
		l.Stage = min(t.ownStage(r.Kind, stage), l.Stages)
		out = append(out, l)
	}
	return out
}

func (r *Retarder) label() string {
	if r.Name != "" {
		return r.Name
	}
	switch r.Kind {
	case DrivelineRetarder:
		return "driveline retarder"
	case TrailerRetarder:
		return "trailer retarder"
	case Recuperation:
		return "recuperation"
	}
	return "engine brake"
}
