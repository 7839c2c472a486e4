package stationing

import (
	"cmp"
	"context"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// How fill values of exactly one height are distinguished from ground under a road. Our own
// choices; the tests in fillers_test.go show the effect of each.
const (
	levelM         = 100.0 // length over which a road is never exactly level …
	levelCells     = 4     // … and so many cells
	levelSteps     = 200.0 // the same for heights that are stored in steps …
	levelStepCells = 8
	sameHeight     = 1.3e-7 // heights nearer than this share of them are one: a unit in the last place
	// crossingM is the length up to which ground on both sides shows a crossing of
	// water: no descent of reportable length (800 m) can hide in it.
	crossingM     = 800.0
	bankM         = 60.0 // height of a bank or bridge over still water
	bankSlope     = 0.08 // and the fall of a road from one side to the other
	bankBelowM    = 1.0  // a bank is not lower than the water, apart from noise
	causewayM     = 5.0  // height over the water up to which the water counts as the road
	stepsAtSides  = 1.5  // steps in height at both sides of a plain's patch
	leastBesideM  = 20.0 // how far beyond a level stretch the side's height is read …
	cellsBeside   = 2    // … and how many cells
	mostLooks     = 8    // rounds of the search: one for each mosaic that covers another
	structureWide = 30.0 // metres around a flagged structure that count as part of it
)

// levelRun is a stretch of stations, first to last, on exactly one height.
type levelRun struct{ first, last int }

// dropFillers removes fill values. Where the heights along the road are exactly equal for longer
// than a road is level, it examines the surface around them. Fill values are replaced by the
// heights of the raster below, or become a miss (NoGround). A crossing of still water becomes a
// structure, and plains stay.
func dropFillers(ctx context.Context, s terrain.PatchSurface, r *routes.Route, g *routes.Ground) error {
	var fillers []terrain.Filler
	var crossings []routes.Structure
	wasHit := make([]bool, len(g.Miss))
	for i, m := range g.Miss {
		wasHit[i] = m == terrain.Hit
	}
	without := func(ctx context.Context, points []terrain.Point, out []terrain.Sample) error {
		return s.SampleWithout(ctx, points, out, fillers)
	}
	for range mostLooks {
		crossings = crossings[:0]
		known := len(fillers)
		for _, run := range levelRuns(g) {
			verdict, found, err := judgeLevel(ctx, s, g, run)
			if err != nil {
				return err
			}
			switch verdict {
			case levelMissing:
				for _, f := range found {
					if !slices.Contains(fillers, f) {
						fillers = append(fillers, f)
					}
				}
			case levelCrossing:
				crossings = append(crossings, crossing(g, run))
			}
		}
		if len(fillers) == known {
			break
		}
		if err := fill(ctx, without, r, g, g.Count()); err != nil {
			return err
		}
	}
	for i, m := range g.Miss {
		if wasHit[i] && m == terrain.Void {
			g.Miss[i] = terrain.NoGround
		}
	}
	g.Structures = withCrossings(g.Structures, crossings)
	dropNearLevel(g)
	return nil
}

// heightAt is the height on the line at a station, NaN on a miss.
func heightAt(g *routes.Ground, i int) float64 {
	return float64(g.SectionM[i*len(g.OffsetM)+len(g.OffsetM)/2])
}

func isSameHeight(a, b float64) bool { return math.Abs(a-b) <= sameHeight*math.Abs(b) }

// levelRuns are the stretches of one height that are longer than a road is level,
// outside flagged structures.
func levelRuns(g *routes.Ground) []levelRun {
	var out []levelRun
	n := g.Count()
	skip := besideFlagged(g)
	for i := 0; i < n; {
		z := heightAt(g, i)
		k := i + 1
		if z != z || skip[i] {
			i = k
			continue
		}
		for k < n && !skip[k] && isSameHeight(heightAt(g, k), z) {
			k++
		}
		if float64(k-1-i)*g.StepM >= max(levelM, levelCells*float64(g.CellM[i])) {
			out = append(out, levelRun{i, k - 1})
		}
		i = k
	}
	return out
}

// besideFlagged marks the stations on flagged structures and next to them.
func besideFlagged(g *routes.Ground) []bool {
	out := make([]bool, g.Count())
	for _, st := range g.Structures {
		for i := max(0, int((st.FromM-structureWide)/g.StepM)); i < len(out) && float64(i)*g.StepM <= st.ToM+structureWide; i++ {
			out[i] = true
		}
	}
	return out
}

// levelVerdict is the kind of a level stretch.
type levelVerdict int

const (
	levelGround levelVerdict = iota
	levelCrossing
	levelMissing
)

// judgeLevel returns the kind of a level stretch, and the source to leave out if it is not ground.
func judgeLevel(ctx context.Context, s terrain.PatchSurface, g *routes.Ground, run levelRun) (levelVerdict, []terrain.Filler, error) {
	z := heightAt(g, run.first)
	lengthM := float64(run.last-run.first) * g.StepM
	before, after := besideM(g, run.first, -1), besideM(g, run.last, 1)
	if step := s.HeightStepM(g.Source[run.first]); step > 0 {
		isPlain := math.Abs(before-z) <= stepsAtSides*step && math.Abs(after-z) <= stepsAtSides*step
		if lengthM < max(levelSteps, levelStepCells*float64(g.CellM[run.first])) || isPlain && lengthM <= crossingM {
			return levelGround, nil, nil
		}
	}
	worst := terrain.PatchPlain
	var fillers []terrain.Filler
	// Both ends, and each source between, as far as they belong to other mosaics.
	for _, i := range lookAt(g, run) {
		p, err := s.Patch(ctx, terrain.Point{LonDeg: g.Points[i][0], LatDeg: g.Points[i][1]}, g.Source[i])
		if err != nil {
			return 0, nil, err
		}
		worst = max(worst, p.Kind)
		fillers = append(fillers, p.Filler)
	}
	if worst == terrain.PatchPlain {
		return levelGround, nil, nil
	}
	if !hasBanks(before, after, z, lengthM) {
		return levelMissing, fillers, nil
	}
	switch {
	case lengthM <= crossingM:
		return levelCrossing, nil, nil
	case worst == terrain.PatchFiller:
		return levelMissing, fillers, nil
	case max(before, after)-z <= causewayM:
		return levelGround, nil, nil
	}
	return levelCrossing, nil, nil // package grade puts one of that length in doubt without a tag
}

// hasBanks reports whether the ground on both sides of a level stretch shows that it
// is still water: both stand a little higher, and a road could join them.
func hasBanks(before, after, z, lengthM float64) bool {
	for _, side := range []float64{before, after} {
		if !(side-z >= -bankBelowM && side-z <= bankM) { // NaN at a line's end
			return false
		}
	}
	return math.Abs(before-after) <= bankSlope*(lengthM+2*leastBesideM)
}

// besideM is the height beyond an end of a level stretch, outside the cells that the interpolation
// mixes with it; NaN where there is none.
func besideM(g *routes.Ground, end, way int) float64 {
	i := end + way*besideStations(g, end)
	if i < 0 || i >= g.Count() {
		return math.NaN()
	}
	return heightAt(g, i)
}

// besideStations is how far beyond an end of a level stretch the side's height is read.
func besideStations(g *routes.Ground, end int) int {
	return int(math.Ceil(max(leastBesideM, cellsBeside*float64(g.CellM[end])) / g.StepM))
}

// lookAt are the stations of a level stretch to examine: its ends, and where another source begins.
func lookAt(g *routes.Ground, run levelRun) []int {
	const most = 16
	out := []int{run.first}
	for i := run.first + 1; i <= run.last && len(out) < most; i++ {
		if g.Source[i] != g.Source[i-1] {
			out = append(out, i)
		}
	}
	if last := out[len(out)-1]; last != run.last {
		out = append(out, run.last)
	}
	return out
}

// crossing is the structure that carries a road over a level stretch, with the cells
// around it that the interpolation mixes with the water.
func crossing(g *routes.Ground, run levelRun) routes.Structure {
	wide := max(g.StepM, 1.5*float64(g.CellM[run.first]))
	return routes.Structure{Kind: routes.Bridge,
		FromM: max(0, float64(run.first)*g.StepM-wide), ToM: min(g.LengthM, float64(run.last)*g.StepM+wide)}
}

// withCrossings adds the crossings to the flagged structures, which go first where
// they meet.
func withCrossings(flagged, crossings []routes.Structure) []routes.Structure {
	if len(crossings) == 0 {
		return flagged
	}
	out := slices.Clone(flagged)
	for _, c := range crossings {
		for _, f := range flagged {
			switch {
			case f.FromM <= c.FromM && f.ToM > c.FromM:
				c.FromM = f.ToM
			case f.FromM < c.ToM && f.ToM >= c.ToM:
				c.ToM = f.FromM
			}
		}
		if c.ToM > c.FromM {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b routes.Structure) int { return cmp.Compare(a.FromM, b.FromM) })
	return out
}
