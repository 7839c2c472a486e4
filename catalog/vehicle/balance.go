package vehicle

import "math"

// PullMPS2 is the downhill force on each kilogram: g·(sin θ − Crr·cos θ), with
// tan θ the downgrade. Negative where rolling resistance exceeds it.
func PullMPS2(downgradePct, rollingResistance float64) float64 {
	sin, cos := SinCosFromDowngrade(downgradePct)
	return PullFromSinCosMPS2(sin, cos, rollingResistance)
}

// PullFromSinCosMPS2 is PullMPS2 from sin θ and cos θ.
func PullFromSinCosMPS2(sin, cos, rollingResistance float64) float64 {
	return GravityMPS2 * (sin - rollingResistance*cos)
}

// SinCosFromDowngrade returns sin θ and cos θ of a downgrade in per cent.
func SinCosFromDowngrade(downgradePct float64) (sin, cos float64) {
	t := downgradePct / 100
	cos = 1 / math.Sqrt(1+t*t)
	return t * cos, cos
}

// DemandN is the force at the wheels that keeps a truck from gaining speed:
// m·g·(sin θ − Crr·cos θ) − ½·ρ·CdA·v². Negative where the truck slows by itself.
func DemandN(massKg, downgradePct, rollingResistance, dragAreaM2, airDensityKgM3, speedMPS float64) float64 {
	return massKg*PullMPS2(downgradePct, rollingResistance) - 0.5*airDensityKgM3*dragAreaM2*speedMPS*speedMPS
}

// EngineShare is the share of an engine brake's power that remains at an altitude, 0 to 1.
func (t *Truck) EngineShare(elevationM float64) float64 {
	over := elevationM - t.AltitudeFullM
	if over <= 0 {
		return 1
	}
	return max(0, 1-over/1000*t.AltitudeLossPctPerKM/100)
}
