package signs

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
)

// Table gives the schedule as rows, one a sign, in travel order. Column names
// end in their unit: feet and mph, or metres and km/h.
func (s Schedule) Table(u catalog.Units) (header []string, rows [][]string) {
	unit := "m"
	if u == catalog.US {
		unit = "ft"
	}
	header = []string{"number", "station_" + unit, "station_err_" + unit, "side", "direction", "role", "designation", "plaques", "legend", "ahead_" + unit,
		"distance_from", "need", "grade_pct", "conflicts", "why", "document", "section", "edition", "status", "longitude_deg", "latitude_deg"}
	for _, p := range s.Placements {
		grade, lon, lat := "", "", ""
		if p.GradePct != nil {
			grade = fmt.Sprintf("%.0f", *p.GradePct)
		}
		if p.OnLine {
			lon, lat = fmt.Sprintf("%.6f", p.LonDeg), fmt.Sprintf("%.6f", p.LatDeg)
		}
		rows = append(rows, []string{fmt.Sprint(p.Number), whole(u, p.StationM), whole(u, p.ErrM), p.Side, p.Direction.String(), p.Role, p.Designation,
			strings.Join(p.Plaques, " "), p.Legend, whole(u, p.AheadM), p.How, p.Need, grade, p.conflictWords(), p.Why,
			p.Source.Document, p.Source.Section, p.Source.Edition, p.Source.Status, lon, lat})
	}
	return header, rows
}

// StretchTable gives the warrants as rows, one a stretch judged.
func (s Schedule) StretchTable(u catalog.Units) (header []string, rows [][]string) {
	unit := "m"
	if u == catalog.US {
		unit = "ft"
	}
	header = []string{"warrant", "verdict", "start_" + unit, "end_" + unit, "length_" + unit, "mean_downgrade_pct", "mean_downgrade_err_pct", "criterion",
		"measured_pct", "margin_pct", "bound_pct", "shown_pct", "document", "section", "edition", "status"}
	for _, st := range s.Stretches {
		rows = append(rows, []string{st.Warrant, string(st.Verdict), whole(u, st.FromM), whole(u, st.ToM), whole(u, st.LengthM),
			fmt.Sprintf("%.2f", st.MeanPct), fmt.Sprintf("%.2f", st.MeanErrPct), st.Row, fmt.Sprintf("%.2f", st.MeasuredPct), fmt.Sprintf("%+.2f", st.MarginPct),
			fmt.Sprintf("%.2f", st.BoundPct), fmt.Sprintf("%.0f", st.Figure.ShownPct), st.Source.Document, st.Source.Section, st.Source.Edition, st.Source.Status})
	}
	return header, rows
}

// FindingTable gives an audit as rows.
func FindingTable(findings []Finding, u catalog.Units) (header []string, rows [][]string) {
	unit := "m"
	if u == catalog.US {
		unit = "ft"
	}
	header = []string{"kind", "number", "designation", "standing", "station_" + unit, "off_by_" + unit, "reason", "document", "section", "edition", "status"}
	for _, f := range findings {
		number, off := "", ""
		if f.Number > 0 {
			number = fmt.Sprint(f.Number)
		}
		if f.OffByM != nil {
			off = whole(u, *f.OffByM)
		}
		rows = append(rows, []string{f.Kind, number, f.Designation, f.Standing, whole(u, f.StationM), off, f.Reason,
			f.Source.Document, f.Source.Section, f.Source.Edition, f.Source.Status})
	}
	return header, rows
}

// EditionTable sets schedules of one descent side by side: what each edition
// says for the same hill.
func EditionTable(schedules []Schedule, u catalog.Units) (header []string, rows [][]string) {
	unit := "m"
	if u == catalog.US {
		unit = "ft"
	}
	header = []string{"rule_set", "edition", "verdicts", "criterion", "shown_pct", "first_advance_" + unit, "signs", "repeats", "curve_signs", "conflicts", "ours"}
	for _, s := range schedules {
		verdicts, criteria, shown, ahead := []string{}, []string{}, []string{}, ""
		for _, st := range s.Stretches {
			verdicts = append(verdicts, st.Warrant+" "+string(st.Verdict))
			criteria = append(criteria, st.Row)
			if st.Verdict.CallsForSign() {
				shown = append(shown, fmt.Sprintf("%.0f", st.Figure.ShownPct))
			}
		}
		count := map[string]int{}
		conflicts := 0
		for _, p := range s.Placements {
			count[p.Role]++
			conflicts += len(p.Conflicts)
			if p.Role == RoleAdvance && ahead == "" {
				ahead = whole(u, p.AheadM)
			}
		}
		rows = append(rows, []string{s.RuleSet, s.Edition, strings.Join(verdicts, "; "), strings.Join(criteria, "; "), strings.Join(shown, "; "), ahead,
			fmt.Sprint(len(s.Placements)), fmt.Sprint(count[RoleRepeat]), fmt.Sprint(count[RoleCurve]), fmt.Sprint(conflicts), fmt.Sprint(s.Ours)})
	}
	return header, rows
}

// whole writes a length in whole feet or metres, without commas.
func whole(u catalog.Units, lengthM float64) string {
	if u == catalog.US {
		lengthM /= catalog.FootM
	}
	return fmt.Sprintf("%.0f", math.Round(lengthM)+0) // no minus zero
}

func (p Placement) conflictWords() string {
	var words []string
	for _, c := range p.Conflicts {
		words = append(words, c.Kind+": "+c.Words)
	}
	return strings.Join(words, "; ")
}

// Feature is a point for an overlay; properties are in SI units, the unit last
// in each name. Posts whose place is not known make none.
type Feature struct {
	LonDeg, LatDeg float64
	Properties     map[string]any
}

// Features gives the posts as overlay points, in travel order, each with the signs that it
// carries. The posts must have been planned.
func (s *Schedule) Features() []Feature {
	var out []Feature
	for i := range s.Posts {
		if p := &s.Posts[i]; p.OnLine {
			out = append(out, Feature{p.LonDeg, p.LatDeg, s.postProperties(p)})
		}
	}
	return out
}

// postProperties describe one post; the figures are those of its first sign.
func (s *Schedule) postProperties(p *Post) map[string]any {
	join := func(of func(f *Face) string) string {
		var words []string
		for i := range p.Faces {
			if w := of(&p.Faces[i]); w != "" {
				words = append(words, w)
			}
		}
		return strings.Join(words, "; ")
	}
	props := map[string]any{"descent": s.DescentID, "route": s.Route, "rule_set": s.RuleSet, "edition": s.Edition, "post": p.Number, "action": p.Action,
		"station_m": p.StationM, "station_err_m": p.StationErrM, "side": p.Side, "direction": s.Direction.String(), "from_line_m": p.FromLineM,
		"designation": join(func(f *Face) string { return f.Designation }), "size": join(func(f *Face) string { return f.Size }),
		"legend": join(func(f *Face) string { return f.Legend }), "need": join(func(f *Face) string {
			if f.IsPlaque {
				return ""
			}
			return f.Need
		}), "standing": join(func(f *Face) string { return f.Standing }), "photo": join(func(f *Face) string { return f.Photo }),
		"why": join(func(f *Face) string { return f.Why }), "caution": catalog.SignCaution}
	if p.Milepost != nil {
		props["milepost"] = *p.Milepost
	}
	for _, f := range p.Faces {
		if f.Sign == 0 || f.IsPlaque {
			continue
		}
		q := &s.Placements[f.Sign-1]
		props["number"], props["role"], props["anchor_m"], props["ahead_m"], props["conflicts"], props["source_status"] =
			q.Number, q.Role, q.AnchorM, q.AheadM, q.conflictWords(), q.Source.Status
		if q.GradePct != nil {
			props["shown_grade_pct"] = *q.GradePct
		}
		if q.LengthM != nil {
			props["shown_length_m"] = *q.LengthM
		}
		if q.SpeedMPS != nil {
			props["shown_speed_mps"] = *q.SpeedMPS
		}
		break
	}
	return props
}
