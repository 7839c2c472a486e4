package table

import (
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// DescentsTable is one row a descent, in the order given, with a column for
// each class that any of them has a hold for.
func DescentsTable(es []catalog.Entry, u catalog.Units) Table {
	far, high := wording.LengthUnit(u), wording.HeightUnit(u)
	t := Table{Title: "Descents", Header: []string{
		"No.", "Descent", "Name", "Route", "Direction along the line", "Heading",
		"Crest station (" + far.Name + ")", "Foot station (" + far.Name + ")", "Length (" + far.Name + ")", "Drop (" + high.Name + ")",
		"Mean downgrade (%)", "± 95 % (points)",
		"Steepest " + wording.Window(u, 100) + " (%)", "Steepest " + wording.Window(u, 500) + " (%)", "Steepest " + wording.Window(u, 1000) + " (%)",
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

// HoldsTable is one row a descent and class.
func HoldsTable(es []catalog.Entry, u catalog.Units) Table {
	far, heavy := wording.LengthUnit(u), wording.MassUnit(u)
	t := Table{Title: "Holds", Header: []string{
		"Descent", "Name", "Class", "Mass (" + heavy.Name + ")", "Answer", "Gear", "Stage",
		"Speed (" + u.SpeedName() + ")", "Engine speed (rpm)", "Gear in by station (" + far.Name + ")", "Time (min)",
		"Retarder in use (%)", "Limited by", "Heaviest mass that holds (" + heavy.Name + ")", "Power missing (" + wording.PowerUnit(u).Name + ")",
		"Tyre grip needed", "Keep off when", "Why unknown",
	}}
	classes := wording.Classes(es)
	for i := range es {
		e := &es[i]
		for _, c := range classes {
			a, h, why := wording.AnswerFor(e, c)
			row := make([]any, len(t.Header))
			row[0], row[1], row[2], row[4], row[17] = e.Descent.ID, wording.Title(&e.Descent), c, a.String(), orNone(why)
			if h != nil {
				row[3], row[12], row[13] = down(heavy, h.MassKg), h.LimitedBy, down(heavy, h.HeaviestMassKg)
				row[14], row[15], row[16] = num(wording.PowerUnit(u), h.MissingPowerW, 0), Num{h.FrictionNeeded, 2}, orNone(strings.Join(h.SurfacesOut, ", "))
			}
			switch a {
			case wording.Held:
				row[5], row[6], row[7], row[8] = h.Gear, h.Stage, u.WholeSpeed(h.SpeedMPS), Num{h.EngineRPM, 0}
				row[9], row[10], row[11] = num(far, h.GearByM, 2), Num{h.TimeS / 60, 0}, Num{h.RetarderUsePct, 0}
			case wording.NotHeld:
				for _, k := range []int{5, 6, 7, 8, 9, 10, 11} {
					row[k] = "none"
				}
			}
			t.Rows = append(t.Rows, row)
		}
	}
	t.Notes = notes(es)
	return t
}

// DescentsCSV writes DescentsTable as CSV.
func DescentsCSV(w io.Writer, es []catalog.Entry, u catalog.Units) error {
	return WriteCSV(w, DescentsTable(es, u))
}

// DescentsXLSX writes a workbook with the descents and the holds.
func DescentsXLSX(w io.Writer, es []catalog.Entry, u catalog.Units) error {
	return WriteXLSX(w, []Table{DescentsTable(es, u), HoldsTable(es, u)})
}

// notes are what every table carries underneath.
func notes(es []catalog.Entry) []string {
	var out []string
	if wording.AnyInvented(es) {
		out = append(out, wording.InventedBanner)
	}
	out = append(out, "Downgrades are per cent, positive going down; the ± is a 95 % half-width. Advised speeds are rounded down. \"NOT HELD\": no gear holds on the retarder alone. \"unknown\" is no permission.")
	out = append(out, catalog.Cautions()...)
	seen := map[string]bool{}
	for i := range es {
		if s := wording.SourceLine(es[i].Provenance); !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}
