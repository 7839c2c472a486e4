package vehicle

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gradeline/catalog"
)

// RPMFromSpeed is the engine speed in a gear, counted from 1.
func (t *Truck) RPMFromSpeed(gear int, speedMPS float64) float64 {
	return speedMPS / t.RollingRadiusM * t.GearRatios[gear-1] * t.FinalDrive * 30 / math.Pi
}

// SpeedFromRPM is the road speed in a gear, counted from 1.
func (t *Truck) SpeedFromRPM(gear int, rpm float64) float64 {
	return rpm * math.Pi / 30 * t.RollingRadiusM / (t.GearRatios[gear-1] * t.FinalDrive)
}

// HasEngineSpeed reports whether the engine turns between its lowest retarding
// and its governed speed in a gear at a speed.
func (t *Truck) HasEngineSpeed(gear int, speedMPS float64) bool {
	n := t.RPMFromSpeed(gear, speedMPS)
	return n >= t.EngineMinRPM*(1-1e-9) && n <= t.EngineMaxRPM*(1+1e-9)
}

// LossShareCounted is the part of the driveline's losses that the balance
// counts as help: on the overrun the wheels drive the engine through the same
// gears, so the whole loss helps, but light-load losses are smaller and oil
// warms, so half is counted (no source: a bound).
const LossShareCounted = 0.5

// WheelPower is what retarders take from the wheels in one gear at one speed.
type WheelPower struct {
	EngineW    float64 // engine brakes, at sea level; times Truck.EngineShare at a height
	DrivelineW float64 // driveline retarders
	// SustainedBound is set where a driveline retarder is held back by its
	// cooling and not by its torque.
	SustainedBound bool
}

// AtW is the power at the wheels where altitude leaves engineShare of the engine brake.
func (w WheelPower) AtW(engineShare float64) float64 { return w.EngineW*engineShare + w.DrivelineW }

// WheelPower returns what the retarders can take at a stage, counted as in
// StageCount; the top stage is StageCount. It is 0 where the engine speed lies
// outside its band. With η the driveline efficiency:
//
//	engine:    P(n)·(1 + ½·(1 − η)), P from the stage's curve at engine speed n
//	driveline: min(torque limit · shaft speed, sustained power · cooling)
//
// where cooling is 1 in air of up to CoolingTempC and falls in proportion to
// the difference to 100 °C above it. The sustained power bounds a driveline
// retarder at every station, however short: what its coolant could store for a
// moment is not counted.
func (t *Truck) WheelPower(stage, gear int, speedMPS float64, tempC *float64) WheelPower {
	var w WheelPower
	if stage <= 0 || gear < 1 || gear > len(t.GearRatios) || !t.HasEngineSpeed(gear, speedMPS) {
		return w
	}
	n := t.RPMFromSpeed(gear, speedMPS)
	shaft := speedMPS / t.RollingRadiusM * t.FinalDrive
	engineStages := t.engineStages()
	for i := range t.Retarders {
		r := &t.Retarders[i]
		switch r.Kind {
		case EngineRetarder:
			s := min(stage, engineStages)
			s = min(s, len(r.Stages))
			w.EngineW += r.Stages[s-1].PowerW(n) * (1 + LossShareCounted*(1-t.DrivelineEfficiency))
		case DrivelineRetarder:
			share := r.shareAt(stage - engineStages)
			if share <= 0 {
				continue
			}
			byTorque := r.TorqueLimitNm * share * shaft
			sustained := r.SustainedPowerW * coolingShare(r.CoolingTempC, tempC)
			if byTorque > sustained {
				w.SustainedBound = true
				byTorque = sustained
			}
			w.DrivelineW += byTorque
		}
	}
	return w
}

// TopWheelPower is WheelPower at the top stage.
func (t *Truck) TopWheelPower(gear int, speedMPS float64, tempC *float64) WheelPower {
	return t.WheelPower(t.StageCount(), gear, speedMPS, tempC)
}

// StageCount is the number of stages of all retarders together: first those of
// the engine brake alone, then the engine brake at its top with the driveline
// retarder's stages.
func (t *Truck) StageCount() int { return t.engineStages() + t.drivelineStages() }

func (t *Truck) engineStages() int {
	n := 0
	for _, r := range t.Retarders {
		if r.Kind == EngineRetarder {
			n = max(n, len(r.Stages))
		}
	}
	return n
}

func (t *Truck) drivelineStages() int {
	n := 0
	for _, r := range t.Retarders {
		if r.Kind == DrivelineRetarder {
			n = max(n, len(r.StageSharePct))
		}
	}
	return n
}

// shareAt is the share of a driveline retarder's torque at its own stage.
func (r *Retarder) shareAt(stage int) float64 {
	if stage <= 0 || len(r.StageSharePct) == 0 {
		return 0
	}
	return r.StageSharePct[min(stage, len(r.StageSharePct))-1] / 100
}

// coolingShare is what hot air leaves of a sustained power: the coolant is
// taken at 100 °C and gives off heat in proportion to its difference to the air.
func coolingShare(coolingTempC float64, tempC *float64) float64 {
	const coolantC = 100
	if tempC == nil || *tempC <= coolingTempC {
		return 1
	}
	return max(0, (coolantC-*tempC)/(coolantC-coolingTempC))
}

// RollingRadiusMFromRevsPerMi is a mile over 2π·n: 500 → 0.5123, 512 → 0.5003.
func RollingRadiusMFromRevsPerMi(revsPerMi float64) float64 {
	return catalog.MileM / (2 * math.Pi * revsPerMi)
}

// RollingRadiusMFromTyreSize reads a metric size such as "295/75R22.5" and
// returns the rolling radius 3.05·D/(2π), D the overall diameter: the factor for
// radial tyres of the European Tyre and Rim Technical Organisation's standards
// manual, from memory. A maker's revolutions per mile is better.
func RollingRadiusMFromTyreSize(size string) (float64, error) {
	s := strings.ToUpper(strings.ReplaceAll(size, " ", ""))
	width, rest, ok := strings.Cut(s, "/")
	aspect, rim, ok2 := strings.Cut(rest, "R")
	w, err1 := strconv.ParseFloat(width, 64)
	a, err2 := strconv.ParseFloat(aspect, 64)
	r, err3 := strconv.ParseFloat(rim, 64)
	if !ok || !ok2 || err1 != nil || err2 != nil || err3 != nil ||
		!(w >= 150 && w <= 500 && a >= 30 && a <= 110 && r >= 12 && r <= 26) {
		return 0, fmt.Errorf("%q is no metric tyre size such as 295/75R22.5", size)
	}
	diameterM := r*catalog.InchM + 2*w*a/100/1000
	return 3.05 * diameterM / (2 * math.Pi), nil
}
