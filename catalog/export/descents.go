package export

import (
	"fmt"
	"io"
	"sort"
	"strings"

	"gradeline/catalog"
)

// DescentsTable is one row a descent, in the order given, with a column for
// each class that any of them has a hold for.
func DescentsTable(es []catalog.Entry, u catalog.Units) Table {
	far, high := lengthUnit(u), heightUnit(u)
	t := Table{Title: "Descents", Header: []string{
		"No.", "Descent", "Name", "Route", "Direction along the line", "Heading",
		"Crest station (" + far.name + ")", "Foot station (" + far.name + ")", "Length (" + far.name + ")", "Drop (" + high.name + ")",
		"Mean downgrade (%)", "± 95 % (points)",
		"Steepest " + Window(u, 100) + " (%)", "Steepest " + Window(u, 500) + " (%)", "Steepest " + Window(u, 1000) + " (%)",
		"Crest elevation (" + high.name + ")", "Foot elevation (" + high.name + ")", "Tightest curve radius (" + high.name + ")",
		"Not on measured ground (" + far.name + ")", "Flags", "Review", "Reviewed by", "Reviewed on", "Field-checked", "In question",
	}}
	classes := Classes(es)
	for _, c := range classes {
		t.Header = append(t.Header, "Hold: "+c)
	}
	for i := range es {
		e := &es[i]
		d := &e.Descent
		row := []any{
			i + 1, d.ID, Title(d), d.Route, d.Direction.String(), Heading(d),
			far.num(d.StartM, 2), far.num(d.EndM, 2), far.num(d.LengthM, 1), high.num(d.DropM, 0),
			Num{d.MeanDowngradePct, 1}, Num{catalog.ShownErrPct(d.MeanDowngradeErrPct), 1},
			Num{d.Steepest100Pct, 1}, Num{d.Steepest500Pct, 1}, Num{d.Steepest1000Pct, 1},
			high.num(d.CrestElevationM, 0), high.num(d.FootElevationM, 0), radiusCell(d.TightestRadiusM, high),
			far.num(d.InterpolatedM, 1), orNone(strings.Join(d.Flags, ", ")),
			reviewState(e), orNone(e.Review.By), dateCell(e), IsFieldChecked(e), orNone(e.Review.InQuestion),
		}
		for _, c := range classes {
			row = append(row, HoldWords(e, c, u))
		}
		t.Rows = append(t.Rows, row)
	}
	t.Notes = notes(es)
	return t
}

// HoldsTable is one row a descent and class.
func HoldsTable(es []catalog.Entry, u catalog.Units) Table {
	far, heavy := lengthUnit(u), massUnit(u)
	t := Table{Title: "Holds", Header: []string{
		"Descent", "Name", "Class", "Mass (" + heavy.name + ")", "Answer", "Gear", "Stage",
		"Speed (" + u.SpeedName() + ")", "Engine speed (rpm)", "Gear in by station (" + far.name + ")", "Time (min)",
		"Retarder in use (%)", "Limited by", "Heaviest mass that holds (" + heavy.name + ")", "Power missing (" + powerUnit(u).name + ")",
		"Tyre grip needed", "Keep off when", "Why unknown",
	}}
	classes := Classes(es)
	for i := range es {
		e := &es[i]
		for _, c := range classes {
			a, h, why := AnswerFor(e, c)
			row := make([]any, len(t.Header))
			row[0], row[1], row[2], row[4], row[17] = e.Descent.ID, Title(&e.Descent), c, a.String(), orNone(why)
			if h != nil {
				row[3], row[12], row[13] = heavy.down(h.MassKg), h.LimitedBy, heavy.down(h.HeaviestMassKg)
				row[14], row[15], row[16] = powerUnit(u).num(h.MissingPowerW, 0), Num{h.FrictionNeeded, 2}, orNone(strings.Join(h.SurfacesOut, ", "))
			}
			switch a {
			case Held:
				row[5], row[6], row[7], row[8] = h.Gear, h.Stage, u.WholeSpeed(h.SpeedMPS), Num{h.EngineRPM, 0}
				row[9], row[10], row[11] = far.num(h.GearByM, 2), Num{h.TimeS / 60, 0}, Num{h.RetarderUsePct, 0}
			case NotHeld:
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

// Classes gives the classes that the entries have holds for, by name.
func Classes(es []catalog.Entry) []string {
	seen := map[string]bool{}
	var out []string
	for i := range es {
		for _, h := range es[i].Holds {
			if !seen[h.Class] {
				seen[h.Class] = true
				out = append(out, h.Class)
			}
		}
	}
	sort.Strings(out)
	return out
}

// HoldWords says in a few words what a class can do on an entry.
func HoldWords(e *catalog.Entry, classID string, u catalog.Units) string {
	switch a, h, why := AnswerFor(e, classID); a {
	case Held:
		return fmt.Sprintf("holds: gear %d, stage %s, %s", h.Gear, stageName(h.Stage), u.Speed(h.SpeedMPS))
	case NotHeld:
		return "NOT HELD"
	default:
		return "unknown: " + why
	}
}

// notes are what every table carries underneath.
func notes(es []catalog.Entry) []string {
	var out []string
	if anyInvented(es) {
		out = append(out, InventedBanner)
	}
	out = append(out, "Downgrades are per cent, positive going down; the ± is a 95 % half-width. Advised speeds are rounded down. \"NOT HELD\": no gear holds on the retarder alone. \"unknown\" is no permission.")
	out = append(out, catalog.Cautions()...)
	seen := map[string]bool{}
	for i := range es {
		if s := SourceLine(es[i].Provenance); !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

// SummaryText writes a mail-sized summary: a few lines a descent, the answer
// for each class, the cautions and the sources.
func SummaryText(w io.Writer, es []catalog.Entry, u catalog.Units) error {
	var b strings.Builder
	classes := Classes(es)
	if anyInvented(es) {
		b.WriteString(InventedBanner + "\n\n")
	}
	switch len(es) {
	case 0:
		b.WriteString("No sustained downgrade.\n")
	case 1:
		b.WriteString("1 sustained downgrade\n")
	default:
		fmt.Fprintf(&b, "%d sustained downgrades\n", len(es))
	}
	for i := range es {
		e := &es[i]
		d := &e.Descent
		fmt.Fprintf(&b, "\n%s\n", wrap(fmt.Sprintf("%d. %s, %s (%s, %s)", i+1, Title(d), Heading(d), plain(d.Route), d.Direction), 72, "", "   "))
		facts := fmt.Sprintf("%s long, drops %s, mean %s, %s over its steepest %s.", u.Length(d.LengthM), u.Height(d.DropM), meanWithBound(d), downgrade(d.Steepest500Pct), Window(u, 500))
		if len(d.Flags) > 0 {
			facts += " Flags: " + strings.Join(d.Flags, ", ") + "."
		}
		b.WriteString(wrap(facts, 72, "   ", "   ") + "\n")
		for _, line := range answersByKind(e, classes, u) {
			b.WriteString(wrap(line, 72, "   - ", "     ") + "\n")
		}
		b.WriteString(wrap(ReviewLine(e), 72, "   ", "   ") + "\n")
	}
	b.WriteString("\n")
	for _, n := range notes(es) {
		if n != InventedBanner {
			b.WriteString(wrap(n, 72, "* ", "  ") + "\n")
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// answersByKind puts what the classes can do into at most three lines, the worst first.
func answersByKind(e *catalog.Entry, classes []string, u catalog.Units) []string {
	by := map[Answer][]string{}
	for _, c := range classes {
		a, h, why := AnswerFor(e, c)
		text := plain(c)
		switch a {
		case Held:
			text += fmt.Sprintf(" gear %d, %s", h.Gear, u.Speed(h.SpeedMPS))
		case Unknown:
			text += " (" + plain(why) + ")"
		}
		by[a] = append(by[a], text)
	}
	var out []string
	for _, k := range []struct {
		a    Answer
		head string
	}{{NotHeld, "NOT HELD: "}, {Unknown, "unknown: "}, {Held, "holds: "}} {
		if list := by[k.a]; len(list) > 0 {
			out = append(out, k.head+strings.Join(list, "; "))
		}
	}
	return out
}
