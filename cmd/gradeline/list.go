package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/shared"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
)

func (s *session) listCommand() *cli.Command {
	return &cli.Command{
		Name: "list", Usage: "descents in the catalogue, most dangerous first",
		Flags: append(filterFlags(), fleetFlag(), outFlag(), forceFlag(), jsonFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "everything", Usage: "with -o of a catalogue: a complete copy, row for row, with road network and recorded drives"}),
		Action: s.list,
	}
}

// sayGaps prints gaps and returns the error for an answer with gaps.
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
	if f.Fleet, err = s.fleetOf(c, cat); err != nil {
		return err
	}
	if err := answer.CheckNames(c.Context, cat, f); err != nil {
		return err
	}
	gaps, err := answer.RouteGaps(c.Context, cat, f.Route)
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

func (s *session) listJSON(c *cli.Context, cat *store.Catalog, f store.Filter, gaps []string) error {
	parts, err := cat.SteepParts(c.Context, f)
	if err != nil {
		return err
	}
	return answer.ListJSON(s.out, answer.Entries(c.Context, cat, f), parts, gaps)
}

// writeList prints the table for a screen, or writes the format that the output
// file's ending names.
func (s *session) writeList(c *cli.Context, cat *store.Catalog, f store.Filter, u catalog.Units) error {
	out := c.String("o")
	if out == "" || out == "-" {
		return answer.ListText(c.Context, s.out, cat, f, u)
	}
	ending := strings.ToLower(filepath.Ext(out))
	if ending == ".gpkg" || shared.IsAddress(out) {
		return s.writePart(c, cat, f)
	}
	if c.Bool("everything") {
		return usagef("--everything needs -o FILE.gpkg or the address of a database")
	}
	write, err := answer.ListFile(c.Context, cat, f, nil, ending)
	if err != nil {
		return err
	}
	if write == nil {
		return usagef("-o %s: the file must end in .csv, .xlsx, .txt or .gpkg, or be the address of a database", out)
	}
	return s.toOutput(c, func(w io.Writer) error { return write(w, u) })
}

// writePart copies the chosen descents into a new catalogue.
func (s *session) writePart(c *cli.Context, cat *store.Catalog, f store.Filter) error {
	path := c.String("o")
	if err := notAnInput(c, path); err != nil {
		return err
	}
	if c.Bool("everything") {
		return s.copyAll(c, cat, path)
	}
	var asked []string
	for _, name := range listParts {
		if c.IsSet(name) {
			asked = append(asked, "--"+name+" "+c.String(name))
		}
	}
	n, err := cat.Subset(c.Context, path, f, store.SubsetOptions{Words: "list " + strings.Join(asked, " "), Replace: c.Bool("force")})
	if err != nil {
		return err
	}
	s.say("wrote %s: a separate catalogue with %d descents and everything that belongs to them", store.NameOf(path), n)
	return nil
}

// copyAll copies the catalogue row for row, with its road network and recorded drives.
func (s *session) copyAll(c *cli.Context, cat *store.Catalog, path string) error {
	for _, name := range listParts {
		if c.IsSet(name) {
			return usagef("--everything copies the complete catalogue: leave --%s out", name)
		}
	}
	if err := cat.CopyTo(c.Context, path); err != nil {
		return err
	}
	s.say("wrote %s: the complete catalogue, with its road network and recorded drives", store.NameOf(path))
	return nil
}

// listParts are the flags that choose a part of the catalogue.
var listParts = []string{"route", "class", "not-held-by", "state", "bbox", "at-least", "limit"}
