package holding

import (
	"math"

	"gradeline/catalog"
)

// bandMPS is how far below the advised speed a stage is let go: 5 mph, the trade's snub
// (common practice, no source).
const bandMPS = 5 * catalog.MilePerHourMPS

// bandLowMPS is the lower end of the band to keep in a gear: where a stage that is left
// on, and slows the truck to its own settling speed, is let go. It is a whole speed,
// rounded up, at which the retarder still works, and under the advised speed where
// the gear leaves room for that.
func (p *problem) bandLowMPS(gear int, speedMPS float64) float64 {
	unit := p.units.SpeedUnitMPS()
	least := p.truck.SpeedFromRPM(gear, p.truck.EngineMinRPM)
	low := math.Ceil(max(speedMPS-bandMPS, max(least, unit))/unit-1e-6) * unit
	return min(low, speedMPS)
}

// recoveryMPS is the fastest speed, at the worst place of the hill, from which the
// whole retarder, clutch closed in the gear, keeps the engine under its governed speed
// from there to the foot; at least the advised speed. It goes up the hill from the foot:
// over each step v² may grow by no more than what is left.
func (p *problem) recoveryMPS(gear int, advisedMPS float64) float64 {
	const leastShare = 0.1 // of v² that one step may take
	most := p.truck.SpeedFromRPM(gear, p.truck.EngineMaxRPM)
	pieces, dx := p.slope.runPieces()
	entry, worst := most, most
	for i := len(pieces) - 1; i >= 0 && worst > advisedMPS; i-- {
		f := forceOf(pieces[i], p.v.gradePct, p.truck)
		for left := dx; left > 0; {
			net := p.netMPS2(gear, entry, f)
			step := min(left, leastShare*entry*entry/max(2*math.Abs(net), 1e-9))
			entry = min(most, math.Sqrt(entry*entry-2*net*step))
			left -= step
			if entry <= advisedMPS {
				return advisedMPS
			}
		}
		worst = min(worst, entry)
	}
	return max(worst, advisedMPS)
}

// netMPS2 is what the truck gains a second on a stretch with the whole retarder.
func (p *problem) netMPS2(gear int, speedMPS float64, f stretch) float64 {
	have := p.wheelPower(gear, speedMPS).AtW(f.engineShare) / speedMPS
	return f.pullMPS2 - (f.dragKgPerM*speedMPS*speedMPS+have)/p.massKg
}
