package vehicle

import "math"

// AirDensityKgM3 returns the density of dry air at a height above sea level. Up to
// 11,000 m it is the US Standard Atmosphere 1976 (published: 1.2250 at 0 m); beyond,
// NaN. With tempC the pressure is the standard one at that height and the temperature
// is tempC.
func AirDensityKgM3(elevationM float64, tempC *float64) float64 {
	// T0, p0 sea level; L lapse; R gas constant of air; e = g0·M/(R*·L).
	const T0, p0, L, R, e = 288.15, 101325.0, 0.0065, 287.05287, 5.255877
	if elevationM < -1000 || elevationM > 11000 {
		return math.NaN()
	}
	T := T0 - L*elevationM
	p := p0 * math.Pow(T/T0, e)
	if tempC != nil {
		T = *tempC + 273.15
	}
	return p / (R * T)
}

// PullMPS2 is the downhill force on each kilogram: g·(sin θ − Crr·cos θ), with
// tan θ the downgrade. Negative where rolling resistance exceeds it.
func PullMPS2(downgradePct, rollingResistance float64) float64 {
	sin, cos := SinCosFromDowngrade(downgradePct)
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
