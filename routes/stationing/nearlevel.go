package stationing

import (
	"math"

	"gradeline/routes"
	"gradeline/terrain"
)

// Fill values that were resampled, compressed with loss, or moved from one vertical datum to another
// are no longer exactly equal. A road over them is as good as level for hundreds of metres, and the
// ground leaps where they end. Our own limits; the tests in nearlevel_test.go show the effect of each.
const (
	nearLevelM      = 300.0 // length of such a stretch …
	nearLevelCells  = 8     // … and its cells
	nearLevelBandM  = 0.3   // greatest distance of its heights from a straight line …
	nearLevelSlope  = 5e-4  // … whose slope is at most that: a geoid's is less
	nearLevelLeapM  = 20.0  // leap at an end, outside the cells that the interpolation mixes …
	nearLevelLeapBy = 0.3   // … and as a slope
)

// dropNearLevel removes the heights of stretches that are almost exactly level and end at a leap of
// the ground, unless water between banks explains them.
func dropNearLevel(g *routes.Ground) {
	for _, run := range nearLevelRuns(g) {
		lengthM := float64(run.last-run.first) * g.StepM
		before, after := besideM(g, run.first, -1), besideM(g, run.last, 1)
		leapM := max(nearLevelLeapM, nearLevelLeapBy*float64(besideStations(g, run.first))*g.StepM)
		isLeap := math.Abs(before-heightAt(g, run.first)) > leapM || math.Abs(after-heightAt(g, run.last)) > leapM
		if isOneHeight(g, run) { // its patch was examined
			continue
		}
		if !isLeap || lengthM <= crossingM && hasBanks(before, after, heightAt(g, run.first), lengthM) {
			continue
		}
		mixed := int(math.Ceil(1.5 * float64(g.CellM[run.first]) / g.StepM))
		w := len(g.OffsetM)
		for i := max(0, run.first-mixed); i <= min(g.Count()-1, run.last+mixed); i++ {
			for k := range w {
				g.SectionM[i*w+k] = float32(math.NaN())
			}
			if g.Miss[i] == terrain.Hit {
				g.Miss[i] = terrain.NoGround
			}
		}
	}
}

// isOneHeight reports whether a stretch is on exactly one height, where the interpolation does not mix
// it with what lies beside it.
func isOneHeight(g *routes.Ground, run levelRun) bool {
	mixed := int(math.Ceil(1.5 * float64(g.CellM[run.first]) / g.StepM))
	middle := heightAt(g, (run.first+run.last)/2)
	for i := run.first + mixed; i <= run.last-mixed; i++ {
		if !isSameHeight(heightAt(g, i), middle) {
			return false
		}
	}
	return true
}

// nearLevelRuns are the stretches that are almost exactly level, outside flagged structures.
func nearLevelRuns(g *routes.Ground) []levelRun {
	var out []levelRun
	n := g.Count()
	skip := besideFlagged(g)
	isStraight := func(from, to int) bool {
		z, end := heightAt(g, from), heightAt(g, to)
		if !(math.Abs(end-z) <= nearLevelBandM+nearLevelSlope*float64(to-from)*g.StepM) {
			return false
		}
		for i := from; i <= to; i++ {
			if d := heightAt(g, i) - z - (end-z)*float64(i-from)/float64(to-from); skip[i] || !(math.Abs(d) <= nearLevelBandM) {
				return false
			}
		}
		return true
	}
	for i := 0; i < n; i++ {
		if g.Miss[i] != terrain.Hit || skip[i] {
			continue
		}
		to := i + int(math.Ceil(max(nearLevelM, nearLevelCells*float64(g.CellM[i]))/g.StepM))
		if to >= n || !isStraight(i, to) {
			continue
		}
		// By doubling, then halving: a stretch of n stations is read a few times, not n times.
		more := to - i
		for ; more > 0; more /= 2 {
			for to+more < n && isStraight(i, to+more) {
				to += more
				more *= 2
			}
		}
		out = append(out, levelRun{i, to})
		i = to
	}
	return out
}
