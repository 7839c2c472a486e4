package stationing

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// Terrain that was put together from sources of two vertical datums or units steps along a straight
// line. A grade line over such a step is wrong, and looks like a road with a structure. Our own
// limits; the tests in seam_test.go show the effect of each.
const (
	seamStepM, seamStepPerCell = 6.0, 0.3   // least step: metres, and more for larger cells
	seamLeapM, seamLeapCells   = 20.0, 2.0  // distance over which the ground steps on the road
	seamSideM, seamSideCells   = 100.0, 10. // length of even ground before and after it
	seamEven                   = 0.25       // of the step, that the ground there may scatter
	seamSlope                  = 0.14       // its steepest slope: a road's, not a valley's side
	seamHalfM, seamHalfCells   = 150.0, 10. // the seam is followed that far to both sides …
	seamPlaces                 = 10         // … in so many places each
	seamAcross                 = 4          // lines on both sides of it that are compared
	seamTurnDeg                = 5          // directions that are tried
	seamShare                  = 0.85       // of the places, in which the ground steps …
	seamLeastShare             = 0.3        // … by this share of the step at least
	seamSame                   = 0.35       // of the step on the road, by which that of the seam may differ
	seamOverRelief             = 2.0        // times the usual differences beside it
	seamReachM                 = 500.0      // on both sides within which the grade line is in doubt
)

// seamSteps are the stretches of a road over a step of the terrain along a straight line.
func seamSteps(ctx context.Context, s terrain.Surface, g *routes.Ground) ([]routes.Doubt, error) {
	if g.SurfaceModel {
		return nil, nil // edges of forests
	}
	var out []routes.Doubt
	skip := besideFlagged(g)
	for i := 0; i < g.Count(); i++ {
		if g.Miss[i] != terrain.Hit {
			continue
		}
		cellM := float64(g.CellM[i])
		leap := int(math.Ceil(max(seamLeapM, seamLeapCells*cellM) / g.StepM))
		if i+leap >= g.Count() || !(math.Abs(heightAt(g, i+leap)-heightAt(g, i)) > seamLeastM(cellM)) || skip[i] || skip[i+leap] {
			continue
		}
		best := i // of the places from which the leap is seen
		for k := i + 1; k <= i+leap && k+leap < g.Count(); k++ {
			if math.Abs(heightAt(g, k+leap)-heightAt(g, k)) > math.Abs(heightAt(g, best+leap)-heightAt(g, best)) {
				best = k
			}
		}
		stepM := evenStepM(g, best, leap, int(math.Ceil(max(seamSideM, seamSideCells*cellM)/g.StepM)))
		if math.Abs(stepM) > seamLeastM(cellM) {
			seamM, err := seamAt(ctx, s, terrain.Point{LonDeg: g.Points[best+leap/2][0], LatDeg: g.Points[best+leap/2][1]}, cellM, stepM)
			if err != nil {
				return nil, err
			}
			if seamM > 0 {
				atM := (float64(best) + float64(leap)/2) * g.StepM
				out = append(out, routes.Doubt{FromM: max(0, atM-seamReachM), ToM: min(g.LengthM, atM+seamReachM),
					Why: fmt.Sprintf("the terrain steps by %.0f m along a straight line across it, as where sources of two vertical datums or units meet", seamM)})
			}
		}
		i = best + leap
	}
	return out, nil
}

func seamLeastM(cellM float64) float64 { return seamStepM + seamStepPerCell*cellM }

// evenStepM is the step of the ground between two stations, from straight lines through the ground
// before and after it; 0 where that is not even.
func evenStepM(g *routes.Ground, at, leap, side int) float64 {
	if at-side < 0 || at+leap+side >= g.Count() {
		return 0
	}
	before, slopeBefore, roughBefore := lineThrough(g, at-side, at)
	after, slopeAfter, roughAfter := lineThrough(g, at+leap, at+leap+side)
	// The lines are given at their middles.
	step := after - slopeAfter*float64(side)/2 - before - slopeBefore*float64(side)/2 - (slopeBefore+slopeAfter)/2*float64(leap)
	if !(max(roughBefore, roughAfter) <= seamEven*math.Abs(step)) || max(math.Abs(slopeBefore), math.Abs(slopeAfter)) > seamSlope*g.StepM {
		return 0
	}
	return step
}

// lineThrough is the least-squares line through the heights of stations: its height in the middle, its
// slope a station, and the standard deviation from it.
func lineThrough(g *routes.Ground, from, to int) (middleM, slope, roughM float64) {
	n := float64(to - from + 1)
	var sz, sxz, sxx float64
	for i := from; i <= to; i++ {
		x := float64(i) - float64(from+to)/2
		sz, sxz, sxx = sz+heightAt(g, i), sxz+x*heightAt(g, i), sxx+x*x
	}
	middleM, slope = sz/n, sxz/sxx
	for i := from; i <= to; i++ {
		d := heightAt(g, i) - middleM - slope*(float64(i)-float64(from+to)/2)
		roughM += d * d
	}
	return middleM, slope, math.Sqrt(roughM / n)
}

const seamAlongCount, seamAcrossCount = 2*seamPlaces + 1, 2*seamAcross + 1

// mayStep reports whether the means of the lines step by half of the step on the road: a quick look,
// which most directions fail.
func mayStep(heights *[seamAcrossCount][seamAlongCount]float64, stepM float64) bool {
	var mean [seamAcrossCount]float64
	for j := range heights {
		sum, n := 0.0, 0
		for _, z := range heights[j] {
			if z == z {
				sum, n = sum+z, n+1
			}
		}
		mean[j] = sum / float64(n)
	}
	rise := func(j int) float64 { return mean[j+1] - mean[j-1] }
	for j := 3; j+3 < len(mean); j++ {
		if math.Abs(rise(j)-(rise(j-2)+rise(j+2))/2) >= math.Abs(stepM)/2 {
			return true
		}
	}
	return false
}

// seamAt is the height of a step along a straight line near a point, metres; 0 where there is none.
//
// Heights are read on nine lines next to each other, for each direction. The step is how much two of
// them differ that are two apart, more than the pairs on either side do: the slope of the ground.
func seamAt(ctx context.Context, s terrain.Surface, at terrain.Point, cellM, stepM float64) (float64, error) {
	const places, across = seamAlongCount, seamAcrossCount
	apartM, halfM := max(seamLeapM, seamLeapCells*cellM)/2, max(seamHalfM, seamHalfCells*cellM)
	around, err := readAround(ctx, s, at, apartM, math.Hypot(halfM, seamAcross*apartM))
	if err != nil {
		return 0, err
	}
	var heights [across][places]float64
	var steps [across][]float64 // differences of the lines on both sides of each
	var medians [across]float64
	for deg := 0; deg < 180; deg += seamTurnDeg {
		sin, cos := math.Sincos(float64(deg) * math.Pi / 180)
		for j := range across {
			for k := range places {
				along, side := float64(k-seamPlaces)*halfM/seamPlaces, float64(j-seamAcross)*apartM
				heights[j][k] = around.heightAt(along*sin+side*cos, along*cos-side*sin)
			}
		}
		if !mayStep(&heights, stepM) {
			continue
		}
		for j := 1; j+1 < across; j++ {
			steps[j] = steps[j][:0]
			for k := range places {
				if d := heights[j+1][k] - heights[j-1][k]; d == d {
					steps[j] = append(steps[j], d)
				}
			}
			slices.Sort(steps[j])
			if medians[j] = math.NaN(); float64(len(steps[j])) >= seamShare*places {
				medians[j] = steps[j][len(steps[j])/2]
			}
		}
		for j := 3; j+3 < across; j++ {
			slope := (medians[j-2] + medians[j+2]) / 2
			seamM, same := medians[j]-slope, 0
			for _, d := range steps[j] {
				if (d-slope)/seamM >= seamLeastShare {
					same++
				}
			}
			if float64(same) >= seamShare*places && math.Abs(math.Abs(seamM)-math.Abs(stepM)) <= seamSame*math.Abs(stepM) &&
				math.Abs(seamM) >= seamOverRelief*max(halfSpreadM(steps[j-2]), halfSpreadM(steps[j+2])) {
				return math.Abs(seamM), nil
			}
		}
	}
	return 0, nil
}

// halfSpreadM is half of the range of the middle 68 % of sorted differences: a standard deviation.
func halfSpreadM(sorted []float64) float64 {
	n := float64(len(sorted) - 1)
	return (sorted[int(math.Round(.84*n))] - sorted[int(math.Round(.16*n))]) / 2
}

// around is the heights on a square grid around a place.
type around struct {
	spacingM float64
	side     int // nodes, odd
	heightM  []float64
}

// readAround reads the heights around a place, up to a distance from it.
func readAround(ctx context.Context, s terrain.Surface, at terrain.Point, spacingM, reachM float64) (*around, error) {
	half := int(math.Ceil(reachM/spacingM)) + 1
	a := &around{spacingM: spacingM, side: 2*half + 1}
	m := metricAt(at.LatDeg)
	points, samples := make([]terrain.Point, 0, a.side*a.side), make([]terrain.Sample, a.side*a.side)
	for j := -half; j <= half; j++ {
		for i := -half; i <= half; i++ {
			points = append(points, terrain.Point{LonDeg: turnDeg(at.LonDeg + float64(i)*spacingM/m.eastM), LatDeg: at.LatDeg + float64(j)*spacingM/m.northM})
		}
	}
	if err := s.Sample(ctx, points, samples); err != nil {
		return nil, err
	}
	a.heightM = make([]float64, len(samples))
	for i := range samples {
		if a.heightM[i] = samples[i].ElevationM; samples[i].Miss != terrain.Hit {
			a.heightM[i] = math.NaN()
		}
	}
	return a, nil
}

// heightAt interpolates between the four nodes around a point, metres from the place.
func (a *around) heightAt(eastM, northM float64) float64 {
	u, v := eastM/a.spacingM+float64(a.side/2), northM/a.spacingM+float64(a.side/2)
	i, j := int(u), int(v)
	u, v = u-float64(i), v-float64(j)
	row, next := a.heightM[j*a.side+i:], a.heightM[(j+1)*a.side+i:]
	return (1-v)*((1-u)*row[0]+u*row[1]) + v*((1-u)*next[0]+u*next[1])
}
