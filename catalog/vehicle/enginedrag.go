package vehicle

// The mean pressure by which a diesel engine drags on the overrun with neither fuel nor
// engine brake: 75 kPa and 48 kPa for each 1,000 rpm (Heywood, Internal Combustion Engine
// Fundamentals, section 13.6, direct injection, from memory). Its third term,
// 0.4 kPa·s²/m² times the square of the mean piston speed, some 50 kPa at the governed
// speed, is left out: the low end. With that term a 14 L engine comes to the 73 hp of the
// grade-severity model.
const (
	dragStillPa      = 75e3
	dragPaPer1000RPM = 48e3
)

// EngineDragFromDisplacement is the low end of a four-stroke diesel engine's own drag, power
// at the flywheel, from a displacement and between two engine speeds.
func EngineDragFromDisplacement(displacementL, fromRPM, toRPM float64) Curve {
	const stepRPM = 100.0
	if !(displacementL > 0 && fromRPM > 0 && fromRPM < toRPM && toRPM < 1e4) {
		return nil
	}
	var c Curve
	at := func(rpm float64) {
		meanPa := dragStillPa + dragPaPer1000RPM*rpm/1000
		c = append(c, CurvePoint{rpm, meanPa * displacementL / 1000 * rpm / 120}) // one cycle in two turns
	}
	for rpm := fromRPM; rpm < toRPM-1; rpm += stepRPM {
		at(rpm)
	}
	at(toRPM)
	return c
}
