package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/cmd/commandline"
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

func (s *session) list(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
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
		err = answer.ListJSON(s.out, answer.Entries(c.Context, cat, f), gaps)
	} else {
		err = s.writeList(c, cat, f, u)
	}
	if err != nil {
		return err
	}
	return s.sayGaps(gaps)
}

// writeList prints the table for a screen, or writes the format that the output
// file's ending names.
func (s *session) writeList(c *cli.Context, cat *store.Catalog, f store.Filter, u catalog.Units) error {
	sheet := func(write func(io.Writer, []catalog.Entry, catalog.Units) error) error {
		var es []catalog.Entry
		for e, err := range answer.Entries(c.Context, cat, f) {
			if err != nil {
				return err
			}
			es = append(es, forSheet(e))
		}
		return s.toOutput(c, func(w io.Writer) error { return write(w, es, u) })
	}
	switch out := strings.ToLower(c.String("o")); {
	case out == "" || out == "-":
		f.Brief = true
		l := answer.NewListing(u)
		for e, err := range answer.Entries(c.Context, cat, f) {
			if err != nil {
				return err
			}
			l.Add(&e)
		}
		return table.WriteText(s.out, l.Table())
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
