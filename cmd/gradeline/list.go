package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
)

func (s *session) listCommand() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "descents in the catalogue, most dangerous first",
		Flags:  append(filterFlags(), outFlag(), forceFlag(), jsonFlag(), unitsFlag()),
		Action: s.list,
	}
}

// sayGaps names them and ends with the code for an answer with gaps.
func (s *session) sayGaps(gaps []string) error {
	for _, g := range gaps {
		s.say("gap: %s", g)
	}
	if len(gaps) > 0 {
		return errGaps
	}
	return nil
}

type listAnswer struct {
	Schema   string        `json:"schema"`
	Descents []entryAnswer `json:"descents"`
	Gaps     []string      `json:"gaps"` // surveyed roads of which not all is known
	Cautions []string      `json:"cautions"`
}

// entryAnswer is a descent with what the catalogue keeps beside it.
type entryAnswer struct {
	descentAnswer
	Review     catalog.Review     `json:"review"`
	Provenance catalog.Provenance `json:"provenance"`
}

func answerOf(e *catalog.Entry) entryAnswer {
	return entryAnswer{descentAnswer{e.Descent, e.Holds}, e.Review, e.Provenance}
}

func (s *session) list(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	es, err := entries(c)
	if err != nil {
		return err
	}
	gaps, err := routeGaps(c)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		a := listAnswer{Schema: catalog.Schema, Descents: []entryAnswer{}, Gaps: gaps, Cautions: catalog.Cautions()}
		for i := range es {
			a.Descents = append(a.Descents, answerOf(&es[i]))
		}
		err = s.printJSON(a)
	} else {
		err = s.writeList(c, es, u)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(gaps)
}

// writeList prints the table for a screen, or writes the format that the output
// file's ending names.
func (s *session) writeList(c *cli.Context, es []catalog.Entry, u catalog.Units) error {
	draw := func(w io.Writer) error { return export.WriteText(w, listTable(es, u)) }
	switch out := strings.ToLower(c.String("o")); {
	case out == "" || out == "-":
	case strings.HasSuffix(out, ".csv"):
		draw = func(w io.Writer) error { return export.DescentsCSV(w, es, u) }
	case strings.HasSuffix(out, ".xlsx"):
		draw = func(w io.Writer) error { return export.DescentsXLSX(w, es, u) }
	case strings.HasSuffix(out, ".txt"):
		draw = func(w io.Writer) error { return export.SummaryText(w, es, u) }
	default:
		return usagef("-o %s: the file must end in .csv, .xlsx or .txt", c.String("o"))
	}
	return s.toOutput(c, draw)
}

// listTable is the table that people read on a screen: one line a descent, and
// what the lightest and heaviest class that has an answer can do.
func listTable(es []catalog.Entry, u catalog.Units) export.Table {
	t := export.Table{Title: fmt.Sprintf("%d descents, most dangerous first", len(es)),
		Header: []string{"descent", "name", "length", "drop", "mean", "steepest 500 m", "heaviest truck", "it holds"}}
	if len(es) == 1 {
		t.Title = "1 descent"
	}
	if u == catalog.US {
		t.Header[5] = "steepest 1,600 ft"
	}
	invented := false
	for i := range es {
		d := &es[i].Descent
		who, what := heaviestWords(&es[i], u)
		name := d.Name
		if len(d.Flags) > 0 {
			name += " [" + strings.Join(d.Flags, ", ") + "]"
		}
		if q := es[i].Review.InQuestion; q != "" {
			name += " [IN QUESTION: " + q + "]"
		}
		t.Rows = append(t.Rows, []any{d.ID, name, u.Length(d.LengthM), u.Height(d.DropM),
			catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct), fmt.Sprintf("%.1f %%", d.Steepest500Pct), who, what})
		invented = invented || es[i].Provenance.Invented
	}
	if invented {
		t.Notes = append(t.Notes, export.InventedBanner)
	}
	t.Notes = append(t.Notes, `"NOT HELD": no gear holds it on the retarder alone. Advised speeds are rounded down; ± is a 95 % half-width.`)
	t.Notes = append(t.Notes, catalog.Cautions()...)
	return t
}

// heaviestWords is what the heaviest class with an answer can do.
func heaviestWords(e *catalog.Entry, u catalog.Units) (who, what string) {
	best := holdFor(e, "")
	if best == nil {
		return "unknown", "no class was asked about"
	}
	who = fmt.Sprintf("%s, %s", best.Class, u.Mass(best.MassKg))
	if !best.Holds {
		return who, "NOT HELD"
	}
	return who, fmt.Sprintf("gear %d, stage %d, %s", best.Gear, best.Stage, u.Speed(best.SpeedMPS))
}
