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
	return t.isInBand(t.RPMFromSpeed(gear, speedMPS))
}

func (t *Truck) isInBand(rpm float64) bool {
	return rpm >= t.EngineMinRPM*(1-1e-9) && rpm <= t.EngineMaxRPM*(1+1e-9)
}

// LossShareCounted is the part of the driveline's losses that the balance
// counts as help: on the overrun the wheels drive the engine through the same
// gears, so the whole loss helps, but light-load losses are smaller and oil
// warms, so half is counted (no source: a bound).
const LossShareCounted = 0.5

// WheelPower is the power of the retarders at the wheels in one gear at one speed.
type WheelPower struct {
	EngineW       float64 // engine brakes, at sea level; times Truck.EngineShare at a height
	DrivelineW    float64 // driveline and trailer retarders
	RecuperationW float64 // into a battery, while it has room
	// SustainedBound is set where a driveline or trailer retarder is held back by its
	// cooling, or recuperation by what the battery takes, and not by its torque.
	SustainedBound bool
}

// AtW is the power at the wheels at an altitude where engineShare of the engine brake remains.
func (w WheelPower) AtW(engineShare float64) float64 {
	return w.EngineW*engineShare + w.DrivelineW + w.RecuperationW
}

// WheelPower returns the retarders' power at a stage, counted as in StageCount; the top stage is
// StageCount. It is 0 where the engine speed is outside its band. With η the driveline efficiency:
//
//	engine:       P(n)·(1 + ½·(1 − η)), P from the stage's curve at engine speed n
//	driveline:    min(torque limit · shaft speed, sustained power · cooling)
//	trailer:      min(torque limit · wheel speed, sustained power · cooling)
//	recuperation: min(torque limit · motor speed, sustained power)
//
// Without an engine brake the engine's own drag counts at every stage, 0 too. With one it
// is part of the brake's curves, and stage 0 counts nothing. Recuperation counts losses on
// the way to the battery as none. It holds while the battery has room: see Battery.
// Cooling is coolingShare: less in hot air, high up and at low engine speed. The sustained
// power bounds a driveline retarder at every station, however short: what its coolant
// could store for a moment is not counted.
func (t *Truck) WheelPower(stage, gear int, speedMPS float64, air Air) WheelPower {
	s := t.AtStage(stage)
	return s.WheelPower(gear, speedMPS, air)
}

// StagedTruck is a truck with its retarders at one stage, for many powers at that stage.
type StagedTruck struct {
	truck          *Truck
	isStage        bool
	hasEngineBrake bool
	own            []int // the stage of each retarder
}

// AtStage returns the truck with its retarders at a stage, counted as in StageCount.
func (t *Truck) AtStage(stage int) StagedTruck {
	s := StagedTruck{truck: t, isStage: stage >= 0, hasEngineBrake: t.hasEngineBrake(), own: make([]int, len(t.Retarders))}
	for i := range t.Retarders {
		s.own[i] = t.ownStage(t.Retarders[i].Kind, stage)
	}
	return s
}

// WheelPower is Truck.WheelPower at the stage.
func (s *StagedTruck) WheelPower(gear int, speedMPS float64, air Air) WheelPower {
	var w WheelPower
	t := s.truck
	if !s.isStage || gear < 1 || gear > len(t.GearRatios) {
		return w
	}
	n := t.RPMFromSpeed(gear, speedMPS)
	if !t.isInBand(n) {
		return w
	}
	losses := 1 + LossShareCounted*(1-t.DrivelineEfficiency)
	if !s.hasEngineBrake {
		w.EngineW = t.EngineDrag.PowerW(n) * losses
	}
	wheelRadPerS := speedMPS / t.RollingRadiusM
	for i := range t.Retarders {
		r := &t.Retarders[i]
		own := s.own[i]
		if own == 0 {
			continue
		}
		switch r.Kind {
		case EngineRetarder:
			w.EngineW += r.Stages[min(own, len(r.Stages))-1].PowerW(n) * losses
		case DrivelineRetarder:
			w.DrivelineW += w.withinW(r.shareAt(own)*r.TorqueLimitNm*wheelRadPerS*t.FinalDrive, r.SustainedPowerW*r.coolingShare(n, air))
		case TrailerRetarder:
			trailerW := w.withinW(r.shareAt(own)*r.TorqueLimitNm*wheelRadPerS, r.SustainedPowerW*r.coolingShare(n, air))
			if r.Battery.CapacityWh > 0 {
				w.RecuperationW += trailerW
			} else {
				w.DrivelineW += trailerW
			}
		case Recuperation:
			w.RecuperationW += w.withinW(r.shareAt(own)*r.TorqueLimitNm*wheelRadPerS*t.GearRatios[gear-1]*t.FinalDrive, r.SustainedPowerW)
		}
	}
	return w
}

// withinW is a power by torque, held back by what can be carried off; it notes where it is.
func (w *WheelPower) withinW(byTorqueW, sustainedW float64) float64 {
	if byTorqueW > sustainedW {
		w.SustainedBound = true
		return sustainedW
	}
	return byTorqueW
}

// TopWheelPower is WheelPower at the top stage.
func (t *Truck) TopWheelPower(gear int, speedMPS float64, air Air) WheelPower {
	return t.WheelPower(t.StageCount(), gear, speedMPS, air)
}

// StageCount is the number of stages of all retarders together: first those of the
// engine brake alone, then the engine brake at its top with the driveline retarder's
// stages, then those of the trailer's, then recuperation. 0 without a retarder.
func (t *Truck) StageCount() int {
	n := 0
	for _, kind := range kindsInOrder {
		n += t.stagesOf(kind)
	}
	return n
}

// stagesOf is the number of stages of one kind of retarder.
func (t *Truck) stagesOf(kind RetarderKind) int {
	n := 0
	for i := range t.Retarders {
		if t.Retarders[i].Kind == kind {
			n = max(n, t.Retarders[i].stageCount())
		}
	}
	return n
}

// stageCount is the number of the retarder's own stages.
func (r *Retarder) stageCount() int {
	if r.Kind == EngineRetarder {
		return len(r.Stages)
	}
	return len(r.StageSharePct)
}

// ownStage is the stage of one kind of retarder at a stage counted as in StageCount.
func (t *Truck) ownStage(kind RetarderKind, stage int) int {
	for _, k := range kindsInOrder {
		n := t.stagesOf(k)
		if k == kind {
			return min(max(0, stage), n)
		}
		stage -= n
	}
	return 0
}

// hasEngineBrake reports whether a retarder's curves count the engine's own drag.
func (t *Truck) hasEngineBrake() bool { return t.stagesOf(EngineRetarder) > 0 }

// shareAt is the share of a driveline retarder's torque at its own stage.
func (r *Retarder) shareAt(stage int) float64 {
	if stage <= 0 || len(r.StageSharePct) == 0 {
		return 0
	}
	return r.StageSharePct[min(stage, len(r.StageSharePct))-1] / 100
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
		return 0, fmt.Errorf("%q is not a metric tyre size such as 295/75R22.5", size)
	}
	diameterM := r*catalog.InchM + 2*w*a/100/1000
	return 3.05 * diameterM / (2 * math.Pi), nil
}
