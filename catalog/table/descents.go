package table

import (
	"io"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// DescentsTable has one row for each descent, in the order given, and a column for each class with
// a hold for any of them.
func DescentsTable(es []catalog.Entry, u catalog.Units) Table {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	t := Table{Title: "Descents", Header: []string{
		"No.", "Descent", "Name", "Route", "Direction along the line", "Heading",
		"Crest station (" + far.Name + ")", "Foot station (" + far.Name + ")", "Length (" + far.Name + ")", "Drop (" + high.Name + ")",
		"Mean downgrade (%)", "± 95 % (points)",
		"Steepest " + wording.Window(u, 100) + " (%)", "Steepest " + wording.Window(u, 500) + " (%)", "Steepest " + wording.Window(u, 1000) + " (%)",
		"Its ± 95 % over " + wording.Window(u, 100) + " (points)", "Its ± 95 % over " + wording.Window(u, 500) + " (points)", "Its ± 95 % over " + wording.Window(u, 1000) + " (points)",
		"Crest at the earliest, station (" + far.Name + ")", "Foot at the latest, station (" + far.Name + ")",
		"Steep parts", "May be as steep (" + far.Name + ")", "Benches",
		"Crest elevation (" + high.Name + ")", "Foot elevation (" + high.Name + ")", "Tightest curve radius (" + high.Name + ")",
		"Not on measured ground (" + far.Name + ")", "Flags", "Review", "Reviewed by", "Reviewed on", "Field-checked", "In question",
	}}
	classes := wording.Classes(es)
	for _, c := range classes {
		t.Header = append(t.Header, "Hold: "+c)
	}
	for i := range es {
		e := &es[i]
		d := &e.Descent
		row := []any{
			i + 1, d.ID, wording.Title(d), d.Route, d.Direction.String(), wording.Heading(d),
			num(far, d.StartM, 2), num(far, d.EndM, 2), num(far, d.LengthM, 1), num(high, d.DropM, 0),
			Num{d.MeanDowngradePct, 1}, Num{catalog.ShownErrPct(d.MeanDowngradeErrPct), 1},
			Num{d.Steepest100Pct, 1}, Num{d.Steepest500Pct, 1}, Num{d.Steepest1000Pct, 1},
			boundCell(d.Steepest100ErrPct), boundCell(d.Steepest500ErrPct), boundCell(d.Steepest1000ErrPct),
			outerCell(d, d.StartOuterM, far), outerCell(d, d.EndOuterM, far),
			steepCell(d, u), num(far, d.PossibleSteepM, 2), benchCell(d, u),
			num(high, d.CrestElevationM, 0), num(high, d.FootElevationM, 0), radiusCell(d.TightestRadiusM, high),
			num(far, d.InterpolatedM, 1), orNone(strings.Join(d.Flags, ", ")),
			wording.ReviewState(e), orNone(e.Review.By), dateCell(e), wording.IsFieldChecked(e), orNone(e.Review.InQuestion),
		}
		for _, c := range classes {
			row = append(row, wording.HoldWords(e, c, u))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = notes(es)
	return t
}

// DescentsCSV writes DescentsTable as CSV, with further notes under it.
func DescentsCSV(w io.Writer, es []catalog.Entry, u catalog.Units, more ...string) error {
	t := DescentsTable(es, u)
	t.Notes = append(t.Notes, written(more)...)
	return WriteCSV(w, t)
}

// written are the notes that say something.
func written(notes []string) []string {
	return slices.DeleteFunc(slices.Clone(notes), func(n string) bool { return n == "" })
}

// DescentsXLSX writes a workbook with the descents, the holds, the parts of each hill, and further
// sheets.
func DescentsXLSX(w io.Writer, es []catalog.Entry, u catalog.Units, more ...Table) error {
	return WriteXLSX(w, append([]Table{DescentsTable(es, u), HoldsTable(es, u), PartsTable(es, u)}, more...))
}

// notes are printed under every table.
func notes(es []catalog.Entry) []string {
	var out []string
	if wording.AnyInvented(es) {
		out = append(out, wording.InventedBanner)
	}
	out = append(out, "Downgrades are per cent, positive going down; the ± is a 95 % half-width. Advised speeds are rounded down. \"NOT HELD\": no gear holds on the retarder alone. \"unknown\" is not a permission.")
	out = append(out, catalog.Cautions()...)
	return append(out, sourceLines(es)...)
}

// sourceLines lists the sources of the entries, a line for each; those that differ in the ground's
// noise alone share one, with the largest noise.
func sourceLines(es []catalog.Entry) []string {
	var out []string
	at := map[string]int{}
	noise := map[string]float64{}
	for i := range es {
		p := es[i].Provenance
		p.NoiseM = 0
		key := wording.SourceLine(p)
		k, seen := at[key]
		if !seen {
			k = len(out)
			at[key], out = k, append(out, "")
		}
		noise[key] = max(noise[key], es[i].Provenance.NoiseM)
		p.NoiseM = noise[key]
		out[k] = wording.SourceLine(p)
	}
	return out
}
