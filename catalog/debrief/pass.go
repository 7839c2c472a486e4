package debrief

import (
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/routes"
	"gradeline/terrain"
)

// passes cuts what lies on the road into runs that go one way; down tells which
// go with the descent's direction of travel.
func passes(on []laid) (list [][]laid, down []bool) {
	if len(on) == 0 {
		return nil, nil
	}
	begin, extreme, way := 0, 0, 0.0
	end := func(to int) {
		if to-begin >= 2 {
			list, down = append(list, on[begin:to]), append(down, on[to-1].distanceM > on[begin].distanceM)
		}
	}
	for i := 1; i < len(on); i++ {
		if on[i].fix.At.Sub(on[i-1].fix.At) > recorderOff {
			end(i)
			begin, extreme, way = i, i, 0
			continue
		}
		d := on[i].distanceM - on[extreme].distanceM
		switch {
		case way == 0 && math.Abs(d) > turnM:
			way, extreme = math.Copysign(1, d), i
		case way*d > 0:
			extreme = i
		case way != 0 && -way*d > turnM:
			end(extreme + 1)
			begin, way = extreme, -way
			extreme = i
		}
	}
	end(len(on))
	return list, down
}

// gapOf is how long without a point is a gap: 10 s, or three of the recorder's steps.
func gapOf(on []laid) float64 {
	return math.Max(10, 3*medianStepS(on))
}

func medianStepS(on []laid) float64 {
	steps := make([]float64, 0, len(on))
	for i := 1; i < len(on); i++ {
		steps = append(steps, on[i].timeS-on[i-1].timeS)
	}
	return median(steps)
}

// coveredM is how much of 0 to lengthM a pass covers with no gap.
func coveredM(p []laid, lengthM, gapS float64) float64 {
	var sum float64
	for i := 1; i < len(p); i++ {
		if p[i].timeS-p[i-1].timeS > gapS {
			continue
		}
		a, b := math.Max(0, math.Min(p[i-1].distanceM, p[i].distanceM)), math.Min(lengthM, math.Max(p[i-1].distanceM, p[i].distanceM))
		sum += math.Max(0, b-a)
	}
	return math.Min(sum, lengthM)
}

// choosePass takes the wanted pass down the hill (1 is the first; 0 the one that
// covers most of it), and says how many there are.
func choosePass(on []laid, d *routes.Descent, file string, want int) (pass []laid, which, count int, err error) {
	list, down := passes(on)
	gapS := gapOf(on)
	var fit [][]laid
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
		return nil, 0, 0, bad("the drive goes the other way: up the hill "+d.ID, "name the descent of the other direction, or another recording")
	case len(fit) == 0 && len(on) == 0:
		return nil, 0, 0, bad(fmt.Sprintf("none of its points lies within %.0f m of the road of %s", besideRoadM, d.ID), "check that it is this hill, and that longitude and latitude are not swapped")
	case len(fit) == 0:
		return nil, 0, 0, bad("it covers too little of the hill "+d.ID, "give a recording that goes down it")
	case want > len(fit) || want < 0:
		return nil, 0, 0, bad(fmt.Sprintf("there is no pass %d: it goes down this hill %d times", want, len(fit)), "choose one from 1 up")
	case want > 0:
		at = want - 1
	}
	return fit[at], at + 1, len(fit), nil
}
