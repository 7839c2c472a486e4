package signs

import (
	"fmt"
	"math"

	"gradeline/routes"
)

// Conflict is a reason why a sign can't be at the place that the rules require. MoveToM
// is the nearest station upstream that is clear of a structure; nil if that
// does not help.
type Conflict struct {
	Kind    string   `json:"kind"` // one of the Conflict… values
	Words   string   `json:"words"`
	MoveToM *float64 `json:"move_to_m"`
}

// The kinds of conflict.
const (
	ConflictClose   = "too close"
	ConflictRepeat  = "repeated too soon"
	ConflictTunnel  = "in a tunnel"
	ConflictBridge  = "on a bridge"
	ConflictShadow  = "in a curve's sight shadow"
	ConflictOffLine = "off the line"
)

// conflicts checks every placement after the signs were spaced; it moves none.
func (pl *placer) conflicts() {
	for i := range pl.out {
		p := &pl.out[i]
		if !p.OnLine {
			p.add(ConflictOffLine, "the route's line does not reach this station; its place is not known", nil)
			continue
		}
		pl.structure(p)
		far := pl.rs.visibleM(pl.s.ApproachMPS)
		if seen := pl.t.visible(p.StationM, far, pl.rs.Sight.ClearOffsetM); seen < far-1e-6 {
			p.add(ConflictShadow, fmt.Sprintf("visible from about %s only, where %s is required; the view is assumed clear to %s from the road's line",
				length(pl.rs.Units, seen), length(pl.rs.Units, far), length(pl.rs.Units, pl.rs.Sight.ClearOffsetM)), nil)
		}
		for j := i - 1; j >= 0; j-- {
			pl.pair(p, &pl.out[j])
		}
	}
}

func (p *Placement) add(kind, words string, move *float64) {
	p.Conflicts = append(p.Conflicts, Conflict{kind, words, move})
}

// structure records a bridge or a tunnel under the sign, flagged or found.
func (pl *placer) structure(p *Placement) {
	for _, st := range pl.t.p.Structures {
		if p.StationM < st.FromM || p.StationM > st.ToM {
			continue
		}
		kind := ConflictBridge
		if st.Kind == routes.Tunnel {
			kind = ConflictTunnel
		}
		clear := st.FromM - pl.t.p.StepM
		if pl.t.dir == routes.Backward {
			clear = st.ToM + pl.t.p.StepM
		}
		var move *float64
		if pl.t.onLine(clear) {
			move = &clear
		}
		p.add(kind, fmt.Sprintf("%s from station %s to %s", st.Kind, length(pl.rs.Units, st.FromM), length(pl.rs.Units, st.ToM)), move)
	}
}

// pair records that b, upstream, is too near to a, or too early for a repeat.
func (pl *placer) pair(a, b *Placement) {
	if b.Side != a.Side && a.Side != "both" && b.Side != "both" {
		return
	}
	gap := math.Abs(a.StationM - b.StationM)
	if gap < pl.rs.Spacing.LeastM-1e-6 {
		if gap < 1 {
			return // they share a post
		}
		a.add(ConflictClose, fmt.Sprintf("%s from sign %d (%s), where %s is required", length(pl.rs.Units, gap), b.Number, b.Designation, length(pl.rs.Units, pl.rs.Spacing.LeastM)), nil)
		return
	}
	if s := a.sign; s.ApartM > 0 && a.Designation == b.Designation && gap < s.ApartM {
		if a.GradePct != nil && b.GradePct != nil && *a.GradePct-*b.GradePct >= s.ApartUnlessPct {
			return
		}
		a.add(ConflictRepeat, fmt.Sprintf("%s from sign %d, where %s is required unless the grade increases by %.0f %%", length(pl.rs.Units, gap), b.Number,
			length(pl.rs.Units, s.ApartM), s.ApartUnlessPct), nil)
	}
}
