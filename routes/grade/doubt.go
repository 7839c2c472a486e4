package grade

import (
	"fmt"

	"gradeline/routes"
)

// What heights alone can't settle: a long ridge without a tag can be tunnelled, or
// climbed over its level top with a bridge on either side, and which of the two
// costs less hangs on the noise. Such a reading shows as a long bridge, or as a
// long tunnel and a long bridge close together. Of 1,560 drawn roads and cell sizes, 5
// stretches were in doubt, 2 of them wrongly read by 4 points and more over 1.5 km.
const (
	doubtBridgeM = 800.0 // longer road bridges are few, and carry a tag (common practice, no source)
	doubtPartM   = 400.0
	doubtApartM  = 500.0
	doubtMarginM = 500.0 // what an end of the stretch still bears on
)

// doubts gives the stretches in doubt, along the line, from structures in order of
// their start.
func doubts(structures []routes.Structure, lengthM float64) []routes.Doubt {
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
				add(l.FromM, s.ToM, "the ground is far above the grade line and close by far below it, with no bridge or tunnel in the road data")
			}
		}
		if s.Kind == routes.Bridge && s.ToM-s.FromM > doubtBridgeM {
			add(s.FromM, s.ToM, fmt.Sprintf("the ground is far below the grade line for %.0f m, with no bridge in the road data", s.ToM-s.FromM))
		}
		last = i
	}
	return out
}
