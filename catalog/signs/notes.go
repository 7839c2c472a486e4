package signs

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
)

// checkAreaNotes say whether a brake check area serves the descent; one past the crest gets its
// signs but is too late.
func (pl *placer) checkAreaNotes() []string {
	u := pl.rs.Units
	var late []string
	for _, site := range pl.in.Sites {
		if site.Kind != catalog.BrakeCheck || !site.Serves(pl.s.Direction) {
			continue
		}
		pastM := pl.t.pastM(*site.StationM)
		if pastM <= pl.outerCrestM()+1 {
			return nil
		}
		where := length(u, pastM) + " past it"
		if pastM <= pl.endErrM {
			where = "at the crest itself, whose place is known within ± " + length(u, pl.endErrM)
		}
		late = append(late, "the one at station "+length(u, *site.StationM)+" lies "+where)
	}
	if len(late) == 0 {
		return []string{"No brake check area is on record for this hill; none is scheduled."}
	}
	words := "No brake check area is certainly before the crest: " + strings.Join(late, "; ") + "."
	if pl.has(RoleCheck) {
		words += " Its signs are scheduled anyway."
	}
	return []string{words}
}

// candidateNotes give the figures for an engineer's judgement of a candidate, where the standard
// has no numeric warrant.
func (pl *placer) candidateNotes() []string {
	if !pl.rs.IsJudgement {
		return nil
	}
	u := pl.rs.Units
	var out []string
	for i := range pl.s.Stretches {
		st := &pl.s.Stretches[i]
		if st.Verdict != Candidate {
			continue
		}
		curves := 0
		for _, b := range pl.t.bends(pl.rs, pl.s.ApproachMPS) {
			if b.at.fromM < st.x.toM && b.at.toM > st.x.fromM {
				curves += b.curves
			}
		}
		const farM = 500
		seenM := pl.t.visible(st.FromM, farM, pl.rs.Sight.ClearOffsetM)
		seen := "along the road's line its start is visible from about " + length(u, seenM)
		if seenM >= farM-1 {
			seen = "its start is visible from " + length(u, farM) + " or more, as far as the road's line is known"
		}
		x100, p100 := pl.t.steepest(st.x.fromM, st.x.toM, 100)
		out = append(out, fmt.Sprintf("Candidate at station %s: %.1f ± %.1f %% over %s, %.1f ± %.1f %% over its steepest 100 m from station %s, %d curve(s) below the approach speed; %s. %s has no figure to decide by: an engineer judges.",
			length(u, st.FromM), st.MeanPct, st.MeanErrPct, length(u, st.LengthM), p100, pl.t.errPct(x100, math.Min(x100+100, st.x.toM)), length(u, pl.t.stationM(x100)), curves, seen, pl.rs.Edition))
	}
	if len(out) == 0 {
		out = append(out, "No stretch is on the list of candidates; the least grade and length of that list are this project's own and not a criterion of  "+pl.rs.Edition+".")
	}
	return out
}
