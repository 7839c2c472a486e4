package signs

import (
	"fmt"
	"math"
	"strings"

	"gradeline/routes"
)

// modern converts the designations of a sign to the schedule's edition.
func (a *auditor) modern(st Standing) Standing {
	codes := append([]string(nil), st.Codes...)
	for i, c := range codes {
		for _, o := range a.s.rules.Older {
			if st.Edition != "" && o.Edition == st.Edition && strings.EqualFold(o.Was, c) {
				codes[i] = o.Now
				break
			}
		}
	}
	st.Codes = codes
	return st
}

// facing is the direction of travel that reads a sign: as recorded, else by the side of the line;
// unknown within a metre of the line.
func (a *auditor) facing(st Standing) (routes.Direction, bool) {
	if st.Facing != nil {
		return *st.Facing, true
	}
	if math.Abs(st.OffsetM) < 1 || math.IsNaN(st.OffsetM) {
		return routes.Forward, false
	}
	if (st.OffsetM > 0) == (a.s.rules.Side == "right") {
		return routes.Forward, true
	}
	return routes.Backward, true
}

// Unjudged lists the existing signs that an audit of this schedule leaves out, each with the
// reason, so that none is ignored silently.
func Unjudged(s Schedule, standing []Standing, o AuditOptions) []routes.Skipped {
	a := &auditor{s: &s, o: o.filled()}
	var out []routes.Skipped
	for _, st := range standing {
		if why := a.whyNot(a.modern(st)); why != "" {
			out = append(out, routes.Skipped{Where: st.where(), Why: why})
		}
	}
	return out
}

// whyNot says why a sign does not belong to this schedule; "" if it does.
func (a *auditor) whyNot(st Standing) string {
	if len(st.Codes) == 0 {
		return "no designation"
	}
	if d, ok := a.facing(st); ok && d != a.s.Direction {
		return "faces " + d.String() + " travel"
	}
	first := 0.0
	for _, p := range a.s.Placements {
		first = math.Min(first, a.s.line.pastM(p.StationM))
	}
	x := a.s.line.pastM(st.StationM)
	why := "the rule set has no sign " + st.Codes[0]
	if l, ok := a.s.rules.listed(st.Codes[0]); ok {
		return fmt.Sprintf("%s is in the edition but no rule schedules it (%s): %s", l.Designation, l.Use, l.Words)
	}
	for _, t := range a.s.rules.Signs {
		if !t.is(st.Codes[0]) {
			continue
		}
		from := first - a.o.MatchM
		if t.Role == RoleCurve { // curves before the crest are not scheduled
			from = -a.o.ToleranceM
			for _, p := range a.s.Placements {
				if p.Role == RoleCurve {
					from = math.Min(from, a.s.line.pastM(p.StationM)-a.o.MatchM)
				}
			}
		}
		if x >= from && x <= a.s.line.lenM+a.o.MatchM {
			return ""
		}
		why = "is beyond this schedule"
	}
	return why
}

// isHere reports whether a sign faces the travel of this schedule and is on its road.
func (a *auditor) isHere(st *Standing) bool {
	if d, ok := a.facing(*st); ok && d != a.s.Direction {
		return false
	}
	first := 0.0
	for _, p := range a.s.Placements {
		first = math.Min(first, a.s.line.pastM(p.StationM))
	}
	x := a.s.line.pastM(st.StationM)
	return x >= first-a.o.MatchM && x <= a.s.line.lenM+a.o.MatchM
}

// is reports whether a designation is that of this sign or an equivalent one.
func (t SignType) is(code string) bool {
	for _, d := range append([]string{t.Designation}, t.Also...) {
		if strings.EqualFold(d, code) {
			return true
		}
	}
	return false
}
