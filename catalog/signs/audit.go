package signs

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"gradeline/catalog"
	"gradeline/routes"
)

// The kinds of finding of an audit.
const (
	FindMissing     = "missing"
	FindMisplaced   = "misplaced"
	FindFigure      = "wrong figure"
	FindSuperfluous = "superfluous"
)

// Finding is one difference between a schedule and the existing signs.
type Finding struct {
	Kind        string         `json:"kind"`
	Number      int            `json:"number"` // of the scheduled sign; 0 for a superfluous one
	Designation string         `json:"designation"`
	Standing    string         `json:"standing"`  // the existing sign; "" where there is none
	StationM    float64        `json:"station_m"` // where it is, or should be
	OffByM      *float64       `json:"off_by_m"`  // positive when it is past its place in travel; nil for other kinds of finding
	Reason      string         `json:"reason"`
	Source      catalog.Source `json:"source"`
}

// AuditOptions are the tolerances of an audit; zero fields take the defaults.
type AuditOptions struct {
	ToleranceM float64 // 30: a sign further off than the schedule's bound plus this is misplaced
	MatchM     float64 // 500: further than this it is another sign
	StandingM  float64 // 10: bound of an existing sign's station if the inventory does not state one
}

func (o AuditOptions) filled() AuditOptions {
	if o.ToleranceM <= 0 {
		o.ToleranceM = 30
	}
	if o.MatchM <= 0 {
		o.MatchM = 500
	}
	if o.StandingM <= 0 {
		o.StandingM = 10
	}
	return o
}

// AuditStanding compares the existing signs (see Locate) with a schedule: missing, misplaced
// and by how much, wrong figure, superfluous, in travel order. A figure within the grade
// line's bound is not called wrong, nor is a place within the bounds of both stations, the
// scheduled and the existing one. Signs of designations that the rule set does not know,
// that face the other way or are beyond the schedule are not judged (see Unjudged); advice
// and signs whose criterion the terrain can't tell are never missing.
func AuditStanding(s Schedule, standing []Standing, o AuditOptions) []Finding {
	a := newAuditor(&s, standing, o)
	a.match()
	for i := range s.Placements {
		a.placed(&s.Placements[i], a.byPlacement[i])
	}
	for j := range a.standing {
		if _, ok := a.byStanding[j]; !ok {
			a.superfluous(&a.standing[j])
		}
	}
	sort.SliceStable(a.out, func(i, j int) bool {
		return s.line.pastM(a.out[i].StationM) < s.line.pastM(a.out[j].StationM)
	})
	return a.out
}

// newAuditor collects the signs that a schedule can judge.
func newAuditor(s *Schedule, standing []Standing, o AuditOptions) *auditor {
	a := &auditor{s: s, o: o.filled()}
	for _, st := range standing {
		if st := a.modern(st); a.whyNot(st) == "" {
			a.standing = append(a.standing, st)
		}
	}
	return a
}

// takesUp reports whether an existing sign was matched with a scheduled one.
func (a *auditor) takesUp(st *Standing) bool {
	for j := range a.byStanding {
		if a.standing[j].Feature == st.Feature && a.standing[j].Codes[0] == a.modern(*st).Codes[0] {
			return true
		}
	}
	return false
}

// boundM is the bound of an existing sign's station.
func (a *auditor) boundM(st *Standing) float64 {
	if st.ErrM > 0 {
		return st.ErrM
	}
	return a.o.StandingM
}

type auditor struct {
	s           *Schedule
	o           AuditOptions
	standing    []Standing
	byPlacement map[int]*Standing
	byStanding  map[int]int
	out         []Finding
}

// match pairs scheduled and existing signs of the same kind, nearest first. A pair whose plaques
// differ counts as 50 m further apart, so that two signs on one stretch are not swapped.
func (a *auditor) match() {
	type pair struct {
		i, j int
		cost float64
	}
	var pairs []pair
	for i, p := range a.s.Placements {
		for j, st := range a.standing {
			off := math.Abs(p.StationM - st.StationM)
			if !p.sign.is(st.Codes[0]) || off > a.o.MatchM {
				continue
			}
			if !samePlaques(p.Plaques, st.Codes[1:]) {
				off += 50
			}
			if !strings.EqualFold(p.Designation, st.Codes[0]) {
				off += 10
			}
			if p.Need == NeedAdvice || p.Need == NeedCantTell || p.Need == NeedCandidate {
				off += 25 // signs that are due come first
			}
			pairs = append(pairs, pair{i, j, off})
		}
	}
	sort.SliceStable(pairs, func(x, y int) bool { return pairs[x].cost < pairs[y].cost })
	a.byPlacement, a.byStanding = map[int]*Standing{}, map[int]int{}
	for _, p := range pairs {
		_, taken := a.byStanding[p.j]
		if a.byPlacement[p.i] == nil && !taken {
			a.byPlacement[p.i], a.byStanding[p.j] = &a.standing[p.j], p.i
		}
	}
}

func samePlaques(want, got []string) bool {
	for _, w := range want {
		found := false
		for _, g := range got {
			found = found || strings.EqualFold(w, g)
		}
		if !found {
			return false
		}
	}
	return true
}

// placed compares one scheduled sign with its existing one, if any.
func (a *auditor) placed(p *Placement, st *Standing) {
	f := Finding{Number: p.Number, Designation: p.Designation, StationM: p.StationM, Source: p.Source}
	if st == nil {
		if p.OnLine && p.Need != NeedAdvice && p.Need != NeedCantTell && p.Need != NeedCandidate {
			f.Kind, f.Reason = FindMissing, fmt.Sprintf("%s (%s) is due at station %s and there is none within %s: %s", p.Name, p.Legend, a.len(p.StationM), a.len(a.o.MatchM), p.Why)
			a.out = append(a.out, f)
		}
		return
	}
	f.Standing, f.StationM = st.where(), st.StationM
	add := func(kind, reason string, off *float64) {
		g := f
		g.Kind, g.Reason, g.OffByM = kind, reason, off
		a.out = append(a.out, g)
	}
	off := a.s.line.pastM(st.StationM) - a.s.line.pastM(p.StationM)
	allowed := a.o.ToleranceM + p.ErrM + a.boundM(st)
	if about := 0.1 * math.Max(p.sign.EveryM, p.sign.DistanceM); about > allowed {
		allowed = about // intervals and distances that the edition states as "about"
	}
	if math.Abs(off) > allowed {
		way := "too early"
		if off > 0 {
			way = "too far on"
		}
		add(FindMisplaced, fmt.Sprintf("is at station %s, %s %s; station %s is due, within ± %s (the scheduled place ± %s, the existing one ± %s)",
			a.len(st.StationM), a.len(math.Abs(off)), way, a.len(p.StationM), a.len(allowed), a.len(p.ErrM), a.len(a.boundM(st))), &off)
	}
	if side := a.side(st); side != "" && p.Side != "both" && side != p.Side {
		add(FindMisplaced, fmt.Sprintf("is on the %s, the %s is due", side, p.Side), nil)
	}
	for _, why := range a.figures(p, st) {
		add(FindFigure, why, nil)
	}
}

// len writes a length in the units of the rule set's tables.
func (a *auditor) len(lengthM float64) string { return length(a.s.Units, lengthM) }

// side is the side of travel of a sign; "" if it is not clear.
func (a *auditor) side(st *Standing) string {
	if st.Side != "" {
		return st.Side
	}
	if math.Abs(st.OffsetM) < 1 {
		return ""
	}
	if (st.OffsetM > 0) == (a.s.Direction == routes.Forward) {
		return "right"
	}
	return "left"
}

// superfluous says why an existing sign is not needed.
func (a *auditor) superfluous(st *Standing) {
	f := Finding{Kind: FindSuperfluous, Designation: st.Codes[0], Standing: st.where(), StationM: st.StationM}
	for _, p := range a.s.Placements {
		if by := a.byPlacement[p.Number-1]; by != nil && p.sign.is(st.Codes[0]) && math.Abs(p.StationM-st.StationM) <= a.o.MatchM {
			f.Reason = fmt.Sprintf("a second one: %s is already matched with sign %d at station %s", by.where(), p.Number, a.len(p.StationM))
			f.Source = p.Source
			a.out = append(a.out, f)
			return
		}
	}
	f.Reason = "nothing on this descent requires it here"
	for _, str := range a.s.Stretches {
		if str.Verdict == NotWarranted {
			f.Reason = fmt.Sprintf("not warranted: %.1f ± %.1f %% at the steepest, against %s", str.MeasuredPct, str.BoundPct, str.Row)
			f.Source = str.Source
			break
		}
	}
	a.out = append(a.out, f)
}
