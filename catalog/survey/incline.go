package survey

import (
	"fmt"
	"math"

	"gradeline/routes"
)

// inclineTolerancePct is the difference between a tagged incline and the recovered
// grade line that is not yet reported. Tags are rounded and often rounded up, so this
// is wide; common practice, no source.
const inclineTolerancePct = 3

// InclineNotes compares the inclines that the road data claims with the
// recovered grade line. They are a cross-check and never an input.
func InclineNotes(r *routes.Route, p *routes.Profile) []string {
	notes := []string{}
	for _, in := range r.Incline {
		if in.ToM-in.FromM < 200 {
			continue // too short to compare with the terrain
		}
		meanPct := 100 * (p.ElevationAtM(in.ToM) - p.ElevationAtM(in.FromM)) / (in.ToM - in.FromM)
		switch {
		case math.IsNaN(meanPct):
		case math.IsNaN(in.GradePct):
			if meanPct*float64(in.Sign) < -1 {
				notes = append(notes, fmt.Sprintf("station %.0f to %.0f m is tagged with the opposite slope: the grade line has %+.1f %%", in.FromM, in.ToM, meanPct))
			}
		default:
			// The tag is the steepest part of the stretch, so compare with the steepest 200 m.
			steepest := steepestPct(p, in.FromM, in.ToM, math.Copysign(1, in.GradePct))
			if math.Abs(steepest-in.GradePct) > inclineTolerancePct {
				notes = append(notes, fmt.Sprintf("station %.0f to %.0f m is tagged %+.1f %%: the grade line's steepest 200 m there are %+.1f %%", in.FromM, in.ToM, in.GradePct, steepest))
			}
		}
	}
	return notes
}

// steepestPct is the steepest mean grade over 200 m in a stretch, in the sense of sign.
func steepestPct(p *routes.Profile, fromM, toM, sign float64) float64 {
	const windowM = 200
	best := math.Inf(-1)
	for s := fromM; s+windowM <= toM+1e-6; s += 20 {
		if g := sign * 100 * (p.ElevationAtM(s+windowM) - p.ElevationAtM(s)) / windowM; g > best {
			best = g
		}
	}
	return sign * best
}
