package vehicle

import (
	"math"

	"gradeline/catalog"
)

// sideFriction is the largest side friction that road design allows at a speed:
// AASHTO Green Book, maximum side friction factors, second-hand (a design
// program's table of them). It is far below the limits of tyres and load; the margin is the driver's.
var sideFriction = []struct{ speedMPS, share float64 }{
	{40 * catalog.KilometrePerHourMPS, 0.17}, {50 * catalog.KilometrePerHourMPS, 0.16}, {60 * catalog.KilometrePerHourMPS, 0.15}, {70 * catalog.KilometrePerHourMPS, 0.145},
	{80 * catalog.KilometrePerHourMPS, 0.14}, {90 * catalog.KilometrePerHourMPS, 0.13}, {100 * catalog.KilometrePerHourMPS, 0.12}, {110 * catalog.KilometrePerHourMPS, 0.11},
}

// RolloverMarginShare is the share of a truck's static rollover threshold that a curve may use:
// half, because loads slosh, are high and off centre, and radii come from a drawn line (no source:
// a bound).
const RolloverMarginShare = 0.5

// CurveSpeedMPS is the highest speed in a curve, and whether the rollover threshold
// sets it rather than side friction. The road is assumed flat across: superelevation is
// unknown and ignored. +Inf on a straight.
func CurveSpeedMPS(radiusM, rolloverShare float64) (speedMPS float64, byRollover bool) {
	if math.IsInf(radiusM, 1) {
		return math.Inf(1), false
	}
	roll := math.Sqrt(RolloverMarginShare * rolloverShare * GravityMPS2 * radiusM)
	side := 0.0
	last := sideFriction[len(sideFriction)-1]
	// Friction falls and the demand v²/(gR) rises with speed: they cross once.
	lo, hi := 0.0, 60.0
	for i := 0; i < 50; i++ {
		v := (lo + hi) / 2
		f := last.share
		switch {
		case v <= sideFriction[0].speedMPS:
			f = sideFriction[0].share
		case v < last.speedMPS:
			k := 1
			for sideFriction[k].speedMPS < v {
				k++
			}
			a, b := sideFriction[k-1], sideFriction[k]
			f = a.share + (v-a.speedMPS)/(b.speedMPS-a.speedMPS)*(b.share-a.share)
		}
		if v*v/(GravityMPS2*radiusM) <= f {
			lo = v
		} else {
			hi = v
		}
	}
	side = lo
	if roll < side {
		return roll, true
	}
	return side, false
}

// Stopping within sight: AASHTO Green Book's 2.5 s and 3.4 m/s² on the level,
// from memory.
const (
	reactionS    = 2.5
	stoppingMPS2 = 3.4
)

// SightSpeedMPS is the highest speed from which cool service brakes stop within a
// distance on a downgrade: v·2.5 s + v²/(2·(3.4 m/s² − g·sin θ)). 0 where the downhill
// force is as great as the brakes' force.
func SightSpeedMPS(sightM, downgradePct float64) float64 {
	sin, _ := SinCosFromDowngrade(downgradePct)
	a := stoppingMPS2 - GravityMPS2*max(0, sin)
	if a <= 0 || sightM <= 0 {
		return 0
	}
	// v²/(2a) + t·v − d = 0
	return a * (math.Sqrt(reactionS*reactionS+2*sightM/a) - reactionS)
}

// BridgeFormulaLb is the federal bridge formula: W = 500·(L·N/(N−1) + 12·N + 36)
// for N axles over L feet between the outer ones, to the nearest 500 lb. NaN for
// fewer than two axles. Source: FHWA's pamphlet on bridge formula weights, published.
func BridgeFormulaLb(lengthFt float64, axles int) float64 {
	if axles < 2 {
		return math.NaN()
	}
	L, N := lengthFt, float64(axles)
	return math.Round(500*(L*N/(N-1)+12*N+36)/500) * 500
}

// RollingResistanceFromAxles weights the resistance of each axle group by its load.
func RollingResistanceFromAxles(loadsKg, axleResistance []float64) float64 {
	var sum, load float64
	for i, kg := range loadsKg {
		sum += kg * axleResistance[i]
		load += kg
	}
	return sum / load
}
