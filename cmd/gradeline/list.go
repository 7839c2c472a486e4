package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
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
	f, err := filter(c)
	if err != nil {
		return err
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := known(c, cat); err != nil {
		return err
	}
	gaps, err := routeGaps(c)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		err = s.listJSON(c, cat, f, gaps)
	} else {
		err = s.writeList(c, cat, f, u)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(gaps)
}

// listJSON writes the answer a descent at a time: memory does not grow with the
// catalogue. Its gaps are surveyed roads of which not all is known.
func (s *session) listJSON(c *cli.Context, cat *store.Catalog, f store.Filter, gaps []string) error {
	w := bufio.NewWriterSize(s.out, 1<<16)
	member := func(name string, v any) error {
		fmt.Fprintf(w, ",\n  %q: ", name) // a failed write is told by Flush
		return indented(w, v, "  ")
	}
	fmt.Fprintf(w, "{\n  \"schema\": %q,\n  \"descents\": [", catalog.Schema)
	n := 0
	err := cat.Each(c.Context, f, func(e catalog.Entry) error {
		if n++; n > 1 {
			fmt.Fprint(w, ",")
		}
		fmt.Fprint(w, "\n    ")
		return indented(w, answerOf(&e), "    ")
	})
	if err != nil {
		return err
	}
	if n > 0 {
		fmt.Fprint(w, "\n  ")
	}
	fmt.Fprint(w, "]")
	if err := errors.Join(member("gaps", gaps), member("cautions", catalog.Cautions())); err != nil {
		return err
	}
	fmt.Fprint(w, "\n}\n")
	return w.Flush()
}

// indented writes a value as printJSON does, as a part of an object.
func indented(w io.Writer, v any, prefix string) error {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetIndent(prefix, "  ")
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return err
	}
	_, err := w.Write(bytes.TrimSuffix(b.Bytes(), []byte("\n")))
	return err
}

// writeList prints the table for a screen, or writes the format that the output
// file's ending names.
func (s *session) writeList(c *cli.Context, cat *store.Catalog, f store.Filter, u catalog.Units) error {
	sheet := func(write func(io.Writer, []catalog.Entry, catalog.Units) error) error {
		var es []catalog.Entry
		err := cat.Each(c.Context, f, func(e catalog.Entry) error {
			es = append(es, forSheet(e))
			return nil
		})
		if err != nil {
			return err
		}
		return s.toOutput(c, func(w io.Writer) error { return write(w, es, u) })
	}
	switch out := strings.ToLower(c.String("o")); {
	case out == "" || out == "-":
		f.Brief = true
		l := newListing(u)
		if err := cat.Each(c.Context, f, func(e catalog.Entry) error { l.add(&e); return nil }); err != nil {
			return err
		}
		return table.WriteText(s.out, l.table())
	case strings.HasSuffix(out, ".csv"):
		return sheet(table.DescentsCSV)
	case strings.HasSuffix(out, ".xlsx"):
		return sheet(table.DescentsXLSX)
	case strings.HasSuffix(out, ".txt"):
		return sheet(func(w io.Writer, es []catalog.Entry, u catalog.Units) error {
			return table.SummaryText(w, ofClass(es, c.String("class")), u)
		})
	case strings.HasSuffix(out, ".gpkg"):
		return s.writePart(c, cat, f)
	}
	return usagef("-o %s: the file must end in .csv, .xlsx, .txt or .gpkg", c.String("o"))
}

// writePart takes the chosen descents out as a catalogue of their own.
func (s *session) writePart(c *cli.Context, cat *store.Catalog, f store.Filter) error {
	path := c.String("o")
	if err := notAnInput(c, path); err != nil {
		return err
	}
	var asked []string
	for _, name := range []string{"route", "class", "not-held-by", "state", "bbox", "at-least", "limit"} {
		if c.IsSet(name) {
			asked = append(asked, "--"+name+" "+c.String(name))
		}
	}
	n, err := cat.Subset(c.Context, path, f, store.SubsetOptions{Words: "list " + strings.Join(asked, " "), Replace: c.Bool("force")})
	if err != nil {
		return err
	}
	s.say("wrote %s: %d descents with all that belongs to them, a catalogue of its own", path, n)
	return nil
}

// forSheet drops of an entry what no table holds, so that memory stays small.
func forSheet(e catalog.Entry) catalog.Entry {
	e.Line = nil
	for i := range e.Holds {
		h := &e.Holds[i]
		h.Heat, h.Limits, h.Statuses, h.Gears, h.Sensitivity, h.Defaults, h.Cautions = nil, nil, nil, nil, nil, nil, nil
		h.Words, h.HeatCase, h.OneGearUp = catalog.Words{}, "", ""
	}
	return e
}

// listing is the table that people read on a screen: one line a descent, and what
// the heaviest class that has an answer can do.
type listing struct {
	u        catalog.Units
	rows     [][]any
	invented bool
}

func newListing(u catalog.Units) *listing { return &listing{u: u} }

func (l *listing) add(e *catalog.Entry) {
	d, u := &e.Descent, l.u
	who, what := heaviestWords(e, u)
	name := d.Name
	if len(d.Flags) > 0 {
		name += " [" + strings.Join(d.Flags, ", ") + "]"
	}
	if q := e.Review.InQuestion; q != "" {
		name += " [IN QUESTION: " + q + "]"
	}
	l.rows = append(l.rows, []any{d.ID, name, u.Length(d.LengthM), u.Height(d.DropM),
		catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct), fmt.Sprintf("%.1f %%", d.Steepest500Pct), who, what})
	l.invented = l.invented || e.Provenance.Invented
}

func (l *listing) table() table.Table {
	t := table.Table{Title: fmt.Sprintf("%d descents, most dangerous first", len(l.rows)), Rows: l.rows,
		Header: []string{"descent", "name", "length", "drop", "mean", "steepest 500 m", "heaviest truck", "it holds"}}
	if len(l.rows) == 1 {
		t.Title = "1 descent"
	}
	if l.u == catalog.US {
		t.Header[5] = "steepest 1,600 ft"
	}
	if l.invented {
		t.Notes = append(t.Notes, wording.InventedBanner)
	}
	t.Notes = append(t.Notes, `"NOT HELD": no gear holds it on the retarder alone. Advised speeds are rounded down; ± is a 95 % half-width.`)
	t.Notes = append(t.Notes, catalog.Cautions()...)
	return t
}

// listTable is the listing of entries that are there already.
func listTable(es []catalog.Entry, u catalog.Units) table.Table {
	l := newListing(u)
	for i := range es {
		l.add(&es[i])
	}
	return l.table()
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
