package debrief

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// retarderMostW is the greatest power of the retarder at a point: in the gear
// of the recording, or in the best gear at its speed. Altitude is not counted.
func retarderMostW(t *vehicle.Truck, f *routes.Fix, speedMPS float64) float64 {
	if f.IsNeutral && f.EngineRPM < t.EngineMinRPM { // and the engine idles: the clutch is open or the gearbox in neutral
		return 0
	}
	if g := gearAt(t, f, speedMPS); g > 0 && g <= t.GearCount() {
		// A speed just outside the gear's band comes from the recording's error, worn tyres or an
		// engine past its governed speed. The retarder still works then.
		lowMPS, highMPS := t.SpeedFromRPM(g, t.EngineMinRPM), t.SpeedFromRPM(g, t.EngineMaxRPM)
		return t.TopWheelPower(g, math.Max(lowMPS, math.Min(highMPS, speedMPS)), vehicle.AirAtBest()).AtW(1) * math.Max(1, speedMPS/highMPS)
	}
	most := 0.0
	for g := 1; g <= t.GearCount(); g++ {
		most = math.Max(most, t.TopWheelPower(g, speedMPS, vehicle.AirAtBest()).AtW(1))
	}
	return most
}

// heat follows one service brake, all alike, through the windows by both models.
func (out *BrakeBalance) heat(class *vehicle.Class, g *vehicle.GradeSeverity, list []energyWindow, v *driven) {
	b := class.Truck.ServiceBrakes
	drum := b.Balance()
	airC := catalog.CFromF(g.AirTempF)
	lowF, highF := g.StartTempF, g.StartTempF
	lowC, highC := out.StartC, out.StartC
	out.Severity = TempRange{AtLeastC: out.StartC, AtMostC: out.StartC, AtM: v.pass[0].DistanceM}
	out.Balance = out.Severity
	last := 0.0
	for i := range list {
		w := &list[i]
		if i > 0 { // where the grade line is unknown no energy is added
			cool := v.pass[w.a].TimeS - last
			lowF, highF = g.TempF(lowF, 0, 1, cool/3600, b.Count), g.TempF(highF, 0, 1, cool/3600, b.Count)
			lowC, highC = drum.TempC(lowC, airC, 0, 0, cool), drum.TempC(highC, airC, 0, 0, cool)
		}
		last = v.pass[w.b].TimeS
		if w.timeS <= 0 {
			continue
		}
		V := math.Max(w.speedMPS/catalog.MilePerHourMPS, 0.1)
		hours := w.timeS / 3600
		lowF = g.TempF(lowF, w.leastJ/w.timeS/vehicle.HorsepowerW, V, V*hours, b.Count)
		highF = g.TempF(highF, w.mostJ/w.timeS/vehicle.HorsepowerW, V, V*hours, b.Count)
		lowC = drum.TempC(lowC, airC, w.leastJ/w.timeS/float64(b.Count), w.speedMPS, w.timeS)
		highC = drum.TempC(highC, airC, w.mostJ/w.timeS/float64(b.Count), w.speedMPS, w.timeS)
		at := v.pass[w.b].DistanceM
		out.Severity.reach(catalog.CFromF(lowF), catalog.CFromF(highF), at)
		out.Balance.reach(lowC, highC, at)
	}
}

func (r *TempRange) reach(lowC, highC, atM float64) {
	r.AtLeastC = math.Max(r.AtLeastC, lowC)
	if highC > r.AtMostC {
		r.AtMostC, r.AtM = highC, atM
	}
}
