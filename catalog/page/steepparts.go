package page

import (
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// SteepSection is a list of steep parts outside descents, in words for a page.
type SteepSection struct {
	Title, About, Note string
	Head               []string
	Rows               []SteepRow
}

// SteepRow is one steep part; its cells are in the order of the head.
type SteepRow struct{ Road, From, To, Length, Mean, Flags string }

// NewSteepSection puts steep parts into words; note names the limits of their list.
func NewSteepSection(parts []catalog.SteepPart, note string, u catalog.Units) *SteepSection {
	s := &SteepSection{Title: "Steep parts outside descents", About: wording.AboutSteepParts, Note: note,
		Head: []string{"Road", "From station", "To station", "Length", "Mean, ± 95 %", "Flags"}}
	for i := range parts {
		p := &parts[i]
		row := SteepRow{wording.PartTitle(p), u.Station(p.StartM), u.Station(p.EndM), u.Length(p.LengthM),
			catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct), "none"}
		if len(p.Flags) > 0 {
			row.Flags = wording.Plain(strings.Join(p.Flags, ", "))
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// steepSection is nil where there is nothing to say.
func (r *Report) steepSection() *SteepSection {
	if len(r.SteepParts) == 0 && r.SteepNote == "" {
		return nil
	}
	return NewSteepSection(r.SteepParts, r.SteepNote, r.Units)
}
