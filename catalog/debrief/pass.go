package debrief

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/routes/recorded"
	"gradeline/terrain"
)

// gapOf is the time without a point that counts as a gap: 10 s, or three of the recorder's steps.
func gapOf(on []recorded.Place) float64 {
	return math.Max(10, 3*medianStepS(on))
}

func medianStepS(on []recorded.Place) float64 {
	steps := make([]float64, 0, len(on))
	for i := 1; i < len(on); i++ {
		steps = append(steps, on[i].TimeS-on[i-1].TimeS)
	}
	return median(steps)
}

// coveredM is the length from 0 to lengthM that a pass covers without a gap.
func coveredM(p []recorded.Place, lengthM, gapS float64) float64 {
	var sum float64
	for i := 1; i < len(p); i++ {
		if p[i].TimeS-p[i-1].TimeS > gapS {
			continue
		}
		a, b := math.Max(0, math.Min(p[i-1].DistanceM, p[i].DistanceM)), math.Min(lengthM, math.Max(p[i-1].DistanceM, p[i].DistanceM))
		sum += math.Max(0, b-a)
	}
	return math.Min(sum, lengthM)
}

// choosePass returns the wanted pass down the hill (1 is the first; 0 the one that covers most of
// it), and the number of passes.
func choosePass(on []recorded.Place, d *routes.Descent, file string, want int) (pass []recorded.Place, which, count int, err error) {
	list, down := recorded.Passes(on)
	gapS := gapOf(on)
	var fit [][]recorded.Place
	most, at, up := 0.0, -1, 0.0
	for i, p := range list {
		m := coveredM(p, d.LengthM, gapS)
		if !down[i] {
			up = math.Max(up, m)
			continue
		}
		if m < math.Min(leastPassM, d.LengthM/5) {
			continue
		}
		fit = append(fit, p)
		if m > most {
			most, at = m, len(fit)-1
		}
	}
	bad := func(what, fix string) error {
		return &catalog.Fault{Kind: terrain.ErrInput, File: file, What: what, Fix: fix}
	}
	switch {
	case len(fit) == 0 && up > 0:
		return nil, 0, 0, bad("the drive goes in the opposite direction: up the hill  "+d.ID, "name the descent of the other direction, or another recording")
	case len(fit) == 0 && len(on) == 0:
		return nil, 0, 0, bad(fmt.Sprintf("none of its points lies within %.0f m of the road of %s", recorded.BesideRoadM, d.ID), "check that it is this hill, and that longitude and latitude are not swapped")
	case len(fit) == 0:
		return nil, 0, 0, bad("it covers too little of the hill "+d.ID, "use a recording that goes down it")
	case want > len(fit) || want < 0:
		return nil, 0, 0, bad(fmt.Sprintf("there is no pass %d: it goes down this hill %d times", want, len(fit)), "choose one from 1 up")
	case want > 0:
		at = want - 1
	}
	return fit[at], at + 1, len(fit), nil
}
