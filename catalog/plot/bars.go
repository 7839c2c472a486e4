package plot

import (
	"math"

	"gradeline/routes"
)

// gradeBar is the downgrade over one piece of the profile.
type gradeBar struct {
	FromM, ToM   float64 // distance from the crest
	DowngradePct float64 // negative where it climbs; NaN in a gap
	errPct       float64 // 95 % half-width; 0 where not known
	Measured     bool    // every station of it has measured ground
	apart        bool    // the ground is farther from the line than the bound
}

// barStepM is the length of a drawing's grade bars: 100 m, or more on a long hill where bars would
// overlap.
func (v *ProfileView) barStepM() float64 {
	lengthM := v.DistanceM(v.StationM[len(v.StationM)-1]) - v.DistanceM(v.StationM[0])
	for _, s := range []float64{100, 200, 500, 1000, 2000, 5000} {
		if lengthM/s <= 150 {
			return s
		}
	}
	return 10000
}

// GradeBars cuts the profile into pieces of stepM, counted from the crest.
func (v *ProfileView) GradeBars(stepM float64) []gradeBar {
	first, last := v.DistanceM(v.StationM[0]), v.DistanceM(v.StationM[len(v.StationM)-1])
	var out []gradeBar
	for k := math.Floor(first / stepM); k*stepM < last-1; k++ {
		a, b := math.Max(first, k*stepM), math.Min(last, (k+1)*stepM)
		if b-a < stepM/5 { // a very short piece at an end has no meaningful grade
			continue
		}
		out = append(out, gradeBar{a, b, -100 * (v.HeightAt(b) - v.HeightAt(a)) / (b - a), v.barErrPct(a, b), v.measuredOver(a, b), v.isApart(a, b)})
	}
	return out
}

// barErrPct is the bound of a bar's downgrade, 0 where it is not known.
func (v *ProfileView) barErrPct(fromM, toM float64) float64 {
	if v.ErrPct == nil {
		return 0
	}
	a, b := v.CrestM+fromM, v.CrestM+toM
	if v.Direction == routes.Backward {
		a, b = v.CrestM-fromM, v.CrestM-toM
	}
	if e := v.ErrPct(a, b); e < 1e3 {
		return e
	}
	return 0
}

func (v *ProfileView) measuredOver(fromM, toM float64) bool {
	for i, s := range v.State {
		x := v.DistanceM(v.StationM[i])
		if s != routes.Measured && x >= fromM-1e-6 && x <= toM+1e-6 {
			return false
		}
	}
	return true
}

// isApart reports whether ground and grade line differ over a bar, on average, by more than the
// bound of heights. A dip under an untagged bridge that was not recognised looks like this.
func (v *ProfileView) isApart(fromM, toM float64) bool {
	sum, n := 0.0, 0
	for i, g := range v.GroundM {
		if x := v.DistanceM(v.StationM[i]); x >= fromM-1e-6 && x <= toM+1e-6 && !math.IsNaN(g+v.ElevationM[i]) {
			sum += math.Abs(g - v.ElevationM[i])
			n++
		}
	}
	return n > 0 && v.Bound.ElevationM > 0 && sum/float64(n) > v.Bound.ElevationM
}

// gap is a stretch without measured ground, and the reason.
type gap struct {
	fromM, toM float64 // distance from the crest
	label      string
}

// gaps returns the stretches without measured ground: by state where the view has it, else by its
// structures.
func (v *ProfileView) gaps() []gap {
	var out []gap
	if v.State == nil {
		for _, s := range v.Structures {
			a, b := v.DistanceM(s.FromM), v.DistanceM(s.ToM)
			out = append(out, gap{math.Min(a, b), math.Max(a, b), s.Kind.String()})
		}
		return out
	}
	for i := 0; i < len(v.State); i++ {
		if v.State[i] == routes.Measured {
			continue
		}
		j := i
		for j+1 < len(v.State) && v.State[j+1] == v.State[i] {
			j++
		}
		a, b := v.DistanceM(v.StationM[max(0, i-1)]), v.DistanceM(v.StationM[min(len(v.State)-1, j+1)])
		label := v.State[i].String()
		switch v.State[i] {
		case routes.OutsideTerrain:
			label = "no terrain"
		case routes.FoundStructure:
			label = "structure without a tag"
		}
		out = append(out, gap{a, b, label})
		i = j
	}
	return out
}
