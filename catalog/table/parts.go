package table

import (
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// PartsTable has one row for each steep part and bench of the descents, so that a reader sees more
// of a hill than its mean.
func PartsTable(es []catalog.Entry, u catalog.Units) Table {
	far := wording.LengthUnit(u)
	t := Table{Title: "Parts", Header: []string{
		"Descent", "Name", "Part", "From station (" + far.Name + ")", "To station (" + far.Name + ")", "Length (" + far.Name + ")",
		"Mean downgrade (%)", "± 95 % (points)", "Before it (%)", "± before (points)", "After it (%)", "± after (points)",
	}, Notes: notes(es)}
	for i := range es {
		d := &es[i].Descent
		row := func(part string, fromM, toM, lengthM, pct, errPct float64, more ...any) {
			t.Rows = append(t.Rows, append([]any{d.ID, wording.Title(d), part, num(far, fromM, 2), num(far, toM, 2), num(far, lengthM, 2), Num{pct, 1}, boundCell(errPct)}, more...))
		}
		for _, p := range d.SteepParts {
			row("steep part", p.StartM, p.EndM, p.LengthM, p.MeanDowngradePct, p.MeanDowngradeErrPct, "none", "none", "none", "none")
		}
		for _, b := range d.Benches {
			row("bench", b.StartM, b.EndM, b.LengthM, b.MeanDowngradePct, b.MeanDowngradeErrPct,
				benchMean(b.BeforeMeanPct), boundCell(b.BeforeErrPct), benchMean(b.AfterMeanPct), boundCell(b.AfterErrPct))
		}
	}
	return t
}

// benchMean is the mean of the hill on one side of a bench; older catalogues have none.
func benchMean(pct float64) any { return orUnknown(pct != 0, Num{pct, 1}) }

// boundCell is a 95 % half-width, rounded up; unknown where the survey stated none.
func boundCell(errPct float64) any { return orUnknown(errPct > 0, Num{catalog.ShownErrPct(errPct), 1}) }

// outerCell is the outermost possible station of the crest or foot.
func outerCell(d *routes.Descent, stationM float64, far wording.Unit) any {
	return orUnknown(d.StartOuterM != 0 || d.EndOuterM != 0, num(far, stationM, 2))
}

// steepCell lists a descent's steep parts.
func steepCell(d *routes.Descent, u catalog.Units) string {
	var out []string
	for i := range d.SteepParts {
		out = append(out, wording.SteepPart(&d.SteepParts[i], u)+" at station "+u.Station(d.SteepParts[i].StartM))
	}
	return orNone(strings.Join(out, "; "))
}

// benchCell lists a descent's benches.
func benchCell(d *routes.Descent, u catalog.Units) string {
	var out []string
	for i := range d.Benches {
		out = append(out, wording.Bench(&d.Benches[i], u)+" at station "+u.Station(d.Benches[i].StartM))
	}
	return orNone(strings.Join(out, "; "))
}
