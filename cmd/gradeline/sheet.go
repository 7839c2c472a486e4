package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
)

func (s *session) sheetCommand() *cli.Command {
	return &cli.Command{
		Name: "sheet", Usage: "the driver's page for a descent and weight class, HTML or PDF; or one for each descent into a folder",
		ArgsUsage: "[DESCENT...]",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "all", Usage: "a PDF page for every descent of the catalogue that is not retired; -o names the folder"},
			&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"},
			&cli.StringFlag{Name: "toward", Usage: "the `PLACE` the road leads to, for the page's head"}},
		Action: s.sheet,
	}
}

func (s *session) sheet(c *cli.Context) error {
	least := 1
	if c.Bool("all") {
		least = 0
	}
	if err := argCount(c, least, -1, "the id of a descent (gradeline list shows them), or --all"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
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
		return s.sheets(c, u, paper)
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
	sheet, err := pageOf(c, cat, &e, u)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return draw(w, sheet, paper) })
}

// sheets writes a PDF page for each descent into a folder, named after the descent
// and the class. A descent that has no answer for the class is named as a gap.
func (s *session) sheets(c *cli.Context, u catalog.Units, paper page.Paper) error {
	dir := c.String("o")
	if low := strings.ToLower(dir); dir == "" || dir == "-" || strings.HasSuffix(low, ".pdf") || strings.HasSuffix(low, ".html") {
		return usagef("pages for several descents go into a folder; give it as -o pages")
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if err := known(c, cat); err != nil {
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
		return usagef("sheet needs --class with one of %s", listed(wording.Classes(es)))
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return &catalog.Fault{File: dir, What: "cannot be made", Err: unwrapPath(err), Fix: "check the folder above it"}
	}
	var gaps []string
	for i := range es {
		if catalog.HoldFor(es[i].Holds, c.String("class")) == nil {
			gaps = append(gaps, fmt.Sprintf("%s: no page: it has no answer for class %s", es[i].Descent.ID, c.String("class")))
			continue
		}
		sheet, err := pageOf(c, cat, &es[i], u)
		if err != nil {
			return err
		}
		name := es[i].Descent.ID + "-" + c.String("class") + ".pdf"
		if filepath.Base(name) != name { // a catalogue made by hand may hold any id
			return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: es[i].Descent.ID, What: "this name cannot be a file's", Fix: "print its page alone: sheet DESCENT -o FILE"}
		}
		path := filepath.Join(dir, name)
		if err := s.writeTo(c, path, func(w io.Writer) error { return page.SheetPDF(w, sheet, paper) }); err != nil {
			return err
		}
	}
	return s.sayGaps(gaps)
}

// pageOf gathers what one page shows.
func pageOf(c *cli.Context, cat *store.Catalog, e *catalog.Entry, u catalog.Units) (page.Sheet, error) {
	class := c.String("class")
	hold := catalog.HoldFor(e.Holds, class)
	if class == "" || hold == nil {
		return page.Sheet{}, usagef("sheet needs --class with one of %s", listed(wording.Classes([]catalog.Entry{*e})))
	}
	sheet := page.Sheet{Entry: *e, Class: class, Toward: c.String("toward"), Units: u}
	var err error
	if sheet.View, err = descentView(c, cat, e, hold); err != nil {
		return sheet, err
	}
	if sheet.Sites, err = sheetSites(c.Context, cat, e); err != nil {
		return sheet, err
	}
	return sheet, labelClass(c, &sheet)
}

// labelClass adds the class's name and engine speed band, where the classes in
// use know it.
func labelClass(c *cli.Context, sheet *page.Sheet) error {
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	for _, k := range classes {
		if k.ID == sheet.Class {
			v := k.View()
			sheet.ClassLabel, sheet.LowRPM, sheet.HighRPM, sheet.Stages = k.Name, v.EngineMinRPM, v.EngineMaxRPM, k.Truck.StageCount()
		}
	}
	return nil
}

// sheetSites are the sites that serve the descent, a mile before it and after.
func sheetSites(ctx context.Context, cat *store.Catalog, e *catalog.Entry) ([]catalog.Site, error) {
	const aroundM = catalog.MileM
	dir := e.Descent.Direction
	return cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &dir,
		FromM: max(0, min(e.Descent.StartM, e.Descent.EndM)-aroundM), ToM: max(e.Descent.StartM, e.Descent.EndM) + aroundM})
}
