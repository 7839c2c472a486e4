package page

import (
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// steepSection is the report's list of steep parts outside descents.
type steepSection struct {
	About, Note string
	Rows        []steepRow
}

type steepRow struct{ Road, From, To, Length, Mean, Flags string }

// steepSection is nil where there is nothing to say.
func (r *Report) steepSection() *steepSection {
	if len(r.SteepParts) == 0 && r.SteepNote == "" {
		return nil
	}
	s := &steepSection{About: wording.AboutSteepParts, Note: r.SteepNote}
	for i := range r.SteepParts {
		p := &r.SteepParts[i]
		row := steepRow{wording.PartTitle(p), r.Units.Station(p.StartM), r.Units.Station(p.EndM), r.Units.Length(p.LengthM),
			catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct), "none"}
		if len(p.Flags) > 0 {
			row.Flags = wording.Plain(strings.Join(p.Flags, ", "))
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}
