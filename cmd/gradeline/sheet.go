package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/cmd/commandline"
	"gradeline/terrain"
)

func (s *session) sheetCommand() *cli.Command {
	return &cli.Command{
		Name: "sheet", Usage: "the driver's page for a descent and weight class, HTML or PDF; or one for each descent into a folder",
		ArgsUsage: "[DESCENT...]",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "all", Usage: "a PDF page for every descent of the catalogue that is not retired; -o names the folder"},
			&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"},
			&cli.StringFlag{Name: "toward", Usage: "the `PLACE` the road leads to, for the page's head"},
			&cli.StringFlag{Name: "dispatcher", Usage: "`WHOM` the driver calls, as printed: a name and a number"},
			&cli.StringFlag{Name: "note", Usage: "the office's own `WORDS` to the driver"},
			&cli.StringFlag{Name: "check", Usage: "say whether the page with this `FINGERPRINT` is still current"}},
		Action: s.sheet,
	}
}

func (s *session) sheet(c *cli.Context) error {
	if c.IsSet("check") {
		return s.checkPage(c)
	}
	least := 1
	if c.Bool("all") {
		least = 0
	}
	if err := commandline.CountArgs(c, least, -1, "the id of a descent (gradeline list shows them), or --all"); err != nil {
		return err
	}
	paper := page.Letter
	switch strings.ToLower(c.String("paper")) {
	case "letter":
	case "a4":
		paper = page.A4
	default:
		return usagef("--paper %q: use letter or a4", c.String("paper"))
	}
	if c.Bool("all") && c.NArg() > 0 {
		return usagef("--all takes no descents by name")
	}
	if c.Bool("all") || c.NArg() > 1 {
		return s.sheets(c, paper)
	}
	draw := page.SheetHTML
	switch out := strings.ToLower(c.String("o")); {
	case strings.HasSuffix(out, ".pdf"):
		draw = page.SheetPDF
	case out != "" && out != "-" && !strings.HasSuffix(out, ".html"):
		return usagef("-o %s: the file must end in .html or .pdf", c.String("o"))
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	sheet, err := pageOf(c, cat, &e)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return draw(w, sheet, paper) })
}

// sheets writes a PDF page for each descent into a folder, named after the descent
// and the class. A descent that has no answer for the class is named as a gap.
func (s *session) sheets(c *cli.Context, paper page.Paper) error {
	dir := c.String("o")
	if low := strings.ToLower(dir); dir == "" || dir == "-" || strings.HasSuffix(low, ".pdf") || strings.HasSuffix(low, ".html") {
		return usagef("pages for several descents go into a folder; give it as -o pages")
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := answer.CheckClass(c.Context, cat, c.String("class")); err != nil {
		return err
	}
	var es []catalog.Entry
	for _, id := range c.Args().Slice() {
		e, err := cat.Descent(c.Context, id)
		if err != nil {
			return err
		}
		es = append(es, e)
	}
	if c.Bool("all") {
		if es, err = cat.Descents(c.Context, store.Filter{}); err != nil {
			return err
		}
	}
	if c.String("class") == "" {
		return usagef("sheet needs --class with one of %s", commandline.Listed(wording.Classes(es)))
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return &catalog.Fault{File: dir, What: "cannot be made", Err: unwrapPath(err), Fix: "check the folder above it"}
	}
	return s.writeSheets(c, cat, es, dir, paper)
}

// writeSheets writes the pages; one that can't be made is named as a gap, and the
// others follow.
func (s *session) writeSheets(c *cli.Context, cat *store.Catalog, es []catalog.Entry, dir string, paper page.Paper) error {
	class := c.String("class")
	var gaps []string
	for i := range es {
		id := es[i].Descent.ID
		if catalog.HoldFor(es[i].Holds, class) == nil {
			gaps = append(gaps, fmt.Sprintf("%s: no page: it has no answer for class %s", id, class))
			continue
		}
		sheet, err := pageOf(c, cat, &es[i])
		if err != nil {
			return err
		}
		name := id + "-" + class + ".pdf"
		if filepath.Base(name) != name { // a catalogue made by hand may hold any id
			gaps = append(gaps, fmt.Sprintf("%q: no page: this name cannot be a file's; print its page alone: sheet DESCENT -o FILE", id))
			continue
		}
		err = s.writeTo(c, filepath.Join(dir, name), func(w io.Writer) error { return page.SheetPDF(w, sheet, paper) })
		if errors.Is(err, terrain.ErrInput) || errors.Is(err, catalog.ErrImpossible) {
			gaps = append(gaps, fmt.Sprintf("no page: %v", err))
			continue
		}
		if err != nil {
			return err
		}
	}
	s.say("%d of %d pages written to %s", len(es)-len(gaps), len(es), dir)
	return s.sayGaps(gaps)
}

// checkPage says whether a page in somebody's cab is still what the catalogue says.
func (s *session) checkPage(c *cli.Context) error {
	mark := c.String("check")
	if !page.IsFingerprint(mark) {
		return usagef("--check %q: a page's fingerprint is eight letters and figures, as in K7QF-2M9D", mark)
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	found, err := answer.FindPage(c.Context, cat, mark)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(s.out, found)
	return err
}

// pageOf gathers what one page shows.
func pageOf(c *cli.Context, cat *store.Catalog, e *catalog.Entry) (page.Sheet, error) {
	class := c.String("class")
	if class == "" || catalog.HoldFor(e.Holds, class) == nil {
		return page.Sheet{}, usagef("sheet needs --class with one of %s", commandline.Listed(wording.Classes([]catalog.Entry{*e})))
	}
	u, err := units(c)
	if err != nil {
		return page.Sheet{}, err
	}
	classes, err := loadClasses(c)
	if err != nil {
		return page.Sheet{}, err
	}
	sheet, err := answer.SheetFor(c.Context, cat, e, class, classes)
	if c.IsSet("units") {
		sheet.Units = u
	}
	sheet.Toward, sheet.Dispatcher, sheet.Note, sheet.Printed = c.String("toward"), c.String("dispatcher"), c.String("note"), time.Now()
	return sheet, err
}
