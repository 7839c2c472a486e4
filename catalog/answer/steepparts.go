package answer

import (
	"context"
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// SteepPartsAnswer are the steep parts outside any descent, in the form of an answer.
type SteepPartsAnswer struct {
	Parts          []catalog.SteepPart `json:"steep_parts"` // steepest first
	PossibleSteepM float64             `json:"possible_steep_m"`
	Unknown        []string            `json:"steep_parts_unknown"` // roads that were surveyed before steep parts were stored

	count int // number of all, where Parts has only the steepest
}

// SteepPartsOf is the content of a catalogue in the form of an answer.
func SteepPartsOf(s store.SteepParts) SteepPartsAnswer {
	return SteepPartsAnswer{Parts: notNil(s.Parts), PossibleSteepM: s.PossibleM, Unknown: notNil(s.Unknown)}
}

// steepPartsFor are the steep parts that were given, or those that the filter chooses.
func steepPartsFor(ctx context.Context, cat *store.Catalog, f store.Filter, given *store.SteepParts) (store.SteepParts, error) {
	if given != nil {
		return *given, nil
	}
	return cat.SteepParts(ctx, f)
}

// note names the limits of the list.
func (a *SteepPartsAnswer) note(u catalog.Units) string {
	return wording.SteepPartsNote(a.PossibleSteepM, a.Unknown, u)
}

// ScreenTable is the table for a screen.
func (a *SteepPartsAnswer) ScreenTable(u catalog.Units) table.Table {
	t := table.Table{Title: wording.Counted(len(a.Parts), "steep part") + " outside descents, steepest first", Header: []string{"road", "from station", "to station", "length", "mean"}}
	switch {
	case a.count > len(a.Parts):
		t.Title = fmt.Sprintf("%d steep parts outside descents; the %d steepest", a.count, len(a.Parts))
	case len(a.Parts) == 1:
		t.Title = "1 steep part outside descents"
	}
	for i := range a.Parts {
		p := &a.Parts[i]
		name := withFlags(wording.PartTitle(p), p.Flags)
		t.Rows = append(t.Rows, []any{name, u.Station(p.StartM), u.Station(p.EndM), u.Length(p.LengthM), catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct)})
	}
	if wording.AnyInventedPart(a.Parts) {
		t.Notes = append(t.Notes, wording.InventedBanner)
	}
	t.Notes = append(t.Notes, wording.AboutSteepParts)
	if n := a.note(u); n != "" {
		t.Notes = append(t.Notes, n)
	}
	return t
}

// writeText writes the table under another one; without parts only the note.
func (a *SteepPartsAnswer) writeText(w io.Writer, u catalog.Units) error {
	if len(a.Parts) > 0 {
		if _, err := io.WriteString(w, "\n"); err != nil {
			return err
		}
		return table.WriteText(w, a.ScreenTable(u))
	}
	n := a.note(u)
	if n == "" {
		return nil
	}
	_, err := fmt.Fprintf(w, "\nNo steep part outside descents. %s\n", n)
	return err
}

// fileTable is the sheet of a workbook.
func (a *SteepPartsAnswer) fileTable(u catalog.Units) table.Table {
	t := table.SteepPartsTable(a.Parts, u)
	if n := a.note(u); n != "" {
		t.Notes = append(t.Notes, n)
	}
	return t
}

// elsewhere mentions steep parts outside descents in a file that does not list them.
func (a *SteepPartsAnswer) elsewhere(u catalog.Units) string {
	var out []string
	if len(a.Parts) > 0 {
		p := &a.Parts[0]
		out = append(out, fmt.Sprintf("%s outside descents, not in this list; the steepest %s for %s on %s. The list on the screen, as .xlsx or as JSON has them.",
			wording.Counted(len(a.Parts), "steep part"), catalog.GradeWithBound(p.MeanDowngradePct, p.MeanDowngradeErrPct), u.Length(p.LengthM), wording.PartTitle(p)))
	}
	if n := a.note(u); n != "" {
		out = append(out, n)
	}
	return strings.Join(out, " ")
}
