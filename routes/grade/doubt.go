package grade

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gradeline/routes"
	"gradeline/terrain"
)

// Heights alone cannot decide some cases. A road may go through a long untagged ridge
// in a tunnel, or over its level top with a bridge on either side; which of the two
// costs less depends on the noise. Such a case appears as a long bridge, or as a long
// tunnel and a long bridge close together. Of 1,560 drawn roads and cell sizes, 5
// stretches were in doubt, 2 of them wrongly read by 4 points and more over 1.5 km.
const (
	doubtBridgeM = 800.0 // longer road bridges are few, and carry a tag (common practice, no source)
	doubtPartM   = 400.0
	doubtApartM  = 500.0
	doubtMarginM = 500.0 // distance over which an end of the stretch still has an effect
	// missingShare is the share of such gaps from which a complete line is unreliable: our own
	// choice.
	missingShare = 0.2
	doubtVoidM   = 800.0 // a descent of reportable length can hide in a gap of this length
	// A structure that the heights suggest needs road on both sides: this length, and at least one
	// cell. On 10 m cells 44 structures at the ends of ordinary streets were over 8 m off the
	// ground, and a road at the same node contradicted 16 of them.
	doubtEndM = 30.0
	// … and half of its own length, up to this much: the top of a ridge that the line crosses near its
	// end in a tunnel is no road beyond it.
	doubtEndHalfM = 300.0
	// New road tunnels are no steeper than 5 % (Directive 2004/54/EC, Annex I, 2.2.2), long bridges
	// hardly more (common practice, no source). Longer and steeper without a tag is more likely terrain
	// of two heights, or missing terrain. Of 40 drawn roads with untagged structures none has one at any of
	// three cell sizes; of 30 others one has, drawn as steep as that (NOTES).
	doubtSteepM   = 400.0
	doubtSteepPct = 7.5
)

// steepDoubts returns the stretches of untagged structures that are longer and steeper than any.
func steepDoubts(q *routes.Profile) []routes.Doubt {
	var out []routes.Doubt
	for _, s := range q.Structures {
		lengthM := s.ToM - s.FromM
		gradePct := 100 * math.Abs(q.ElevationAtM(s.ToM)-q.ElevationAtM(s.FromM)) / lengthM
		if !s.Flagged && lengthM >= doubtSteepM && gradePct >= doubtSteepPct {
			out = append(out, routes.Doubt{FromM: max(0, s.FromM-doubtMarginM), ToM: min(q.LengthM, s.ToM+doubtMarginM),
				Why: fmt.Sprintf("the ground is far from the grade line for %.0f m at %.1f %%, steeper than bridges and tunnels are, with none in the road data", lengthM, gradePct)})
		}
	}
	return out
}

// doubts returns the stretches in doubt, along the line, from structures in order of their start.
func doubts(structures []routes.Structure, lengthM, cellM float64) []routes.Doubt {
	var out []routes.Doubt
	add := func(from, to float64, why string) {
		from, to = max(0, from-doubtMarginM), min(lengthM, to+doubtMarginM)
		if n := len(out); n > 0 && from <= out[n-1].ToM {
			out[n-1].ToM = max(to, out[n-1].ToM)
			return
		}
		out = append(out, routes.Doubt{FromM: from, ToM: to, Why: why})
	}
	last := -1
	for i, s := range structures {
		if s.Flagged {
			continue
		}
		if last >= 0 {
			if l := structures[last]; s.FromM-l.ToM < doubtApartM && s.Kind != l.Kind && s.ToM-s.FromM > doubtPartM && l.ToM-l.FromM > doubtPartM {
				add(l.FromM, s.ToM, "the ground is far above the grade line and, nearby, far below it, with no bridge or tunnel in the road data")
			}
		}
		if road := max(doubtEndM, cellM, min(doubtEndHalfM, (s.ToM-s.FromM)/2)); s.FromM < road || s.ToM > lengthM-road {
			add(s.FromM, s.ToM, fmt.Sprintf("the ground is far from the grade line over %.0f m at the end of the line, with no bridge or tunnel in the road data and no road seen beyond", s.ToM-s.FromM))
		}
		if s.Kind == routes.Bridge && s.ToM-s.FromM > doubtBridgeM {
			add(s.FromM, s.ToM, fmt.Sprintf("the ground is far below the grade line for %.0f m, with no bridge in the road data", s.ToM-s.FromM))
		}
		last = i
	}
	return out
}

// missingDoubts returns the stretches without ground in which a descent can hide: long gaps between
// measured ground, and fill values; missingM is their total length.
func missingDoubts(g *routes.Ground, state []routes.StationState) (out []routes.Doubt, missingM float64) {
	n := len(state)
	isMissing := func(i int) bool { return state[i] == routes.InVoid || state[i] == routes.OutsideTerrain }
	for i := 0; i < n; i++ {
		if !isMissing(i) {
			continue
		}
		first, isFiller := i, false
		for ; i < n && isMissing(i); i++ {
			isFiller = isFiller || len(g.Miss) == n && g.Miss[i] == terrain.NoGround
		}
		fromM, toM := float64(first)*g.StepM, float64(i-1)*g.StepM
		gapM := toM - fromM + g.StepM
		isInner := first > 0 && i < n
		switch {
		case isFiller:
			out = append(out, routes.Doubt{Why: fmt.Sprintf("for %.0f m the terrain has one height, which is a fill value", gapM)})
		case isInner && toM-fromM >= doubtVoidM:
			out = append(out, routes.Doubt{Why: fmt.Sprintf("for %.0f m there is no terrain under it", gapM)})
		default:
			continue
		}
		missingM += gapM
		out[len(out)-1].FromM, out[len(out)-1].ToM = max(0, fromM-doubtMarginM), min(g.LengthM, toM+doubtMarginM)
	}
	return out, missingM
}

// missingWords says that too much of a line has no ground; empty if not.
func missingWords(missingM, lengthM float64) string {
	if missingM <= missingShare*lengthM {
		return ""
	}
	return fmt.Sprintf("for %.0f %% of the line there is no terrain, or only a fill value", 100*missingM/lengthM)
}

// inOrder sorts doubts along the line and joins those that touch.
func inOrder(list []routes.Doubt) []routes.Doubt {
	slices.SortStableFunc(list, func(a, b routes.Doubt) int { return cmp.Compare(a.FromM, b.FromM) })
	var out []routes.Doubt
	for _, d := range list {
		if n := len(out); n > 0 && d.FromM <= out[n-1].ToM {
			out[n-1].ToM = max(d.ToM, out[n-1].ToM)
			continue
		}
		out = append(out, d)
	}
	return out
}
