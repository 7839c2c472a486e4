package holding

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// bandMPS is the difference between the advised speed and that at which a stage is switched off: 5
// mph, the trade's snub (common practice, no source).
const bandMPS = 5 * catalog.MilePerHourMPS

// bandLowMPS is the lower end of the speed band in a gear: a stage that is left on
// slows the truck, and is switched off at this speed. It is a whole speed, rounded up,
// at which the retarder still works, and below the advised speed if the gear has room
// for that.
func bandLowMPS(t *vehicle.Truck, u catalog.Units, gear int, speedMPS float64) float64 {
	unit := u.SpeedUnitMPS()
	least := t.SpeedFromRPM(gear, t.EngineMinRPM)
	low := math.Ceil(max(speedMPS-bandMPS, max(least, unit))/unit-1e-6) * unit
	return min(low, speedMPS)
}

// recoveryMPS is the fastest speed, at the worst place of the hill, from which the retarder at full
// power, with the clutch closed, keeps the engine below its governed speed down to the foot. It is
// at least the advised speed. The calculation goes up the hill from the foot: over each step v² may
// grow by no more than what is left.
func (p *problem) recoveryMPS(gear int, advisedMPS float64) float64 {
	const leastShare = 0.1 // of v² that one step may take
	most := p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)
	pieces, end := p.slope.recoveryPieces(), p.slope.hill.LengthM()
	entry, worst := most, most
	atMPS, power, air := 0.0, vehicle.WheelPower{}, p.airflowAt(most)
	atMost, airAtMost := p.wheelPower(gear, most), air
	for i := len(pieces) - 1; i >= 0 && worst > advisedMPS; i-- {
		f := pieces[i].force(p.v.gradePct, p.truck)
		if entry == most && f.pullMPS2-(airAtMost.dragN(&f)+atMost.AtW(f.engineShare)/entry)/p.massKg <= 0 { // held at the governed speed
			end = pieces[i].beginM
			continue
		}
		for left := end - pieces[i].beginM; left > 0; {
			if entry != atMPS {
				atMPS, power, air = entry, p.wheelPower(gear, entry), p.airflowAt(entry)
			}
			net := f.pullMPS2 - (air.dragN(&f)+power.AtW(f.engineShare)/entry)/p.massKg
			step := min(left, leastShare*entry*entry/max(2*math.Abs(net), 1e-9))
			entry = min(most, math.Sqrt(entry*entry-2*net*step))
			left -= step
			if entry <= advisedMPS {
				return advisedMPS
			}
		}
		worst, end = min(worst, entry), pieces[i].beginM
	}
	return max(worst, advisedMPS)
}
