package main

import (
	"context"
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/export"
	"gradeline/catalog/store"
)

func (s *session) sheetCommand() *cli.Command {
	return &cli.Command{
		Name: "sheet", Usage: "the driver's page for one descent and weight class, HTML or PDF",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.StringFlag{Name: "paper", Value: "letter", Usage: "`PAPER`: letter or a4"},
			&cli.StringFlag{Name: "toward", Usage: "the `PLACE` the road leads to, for the page's head"}},
		Action: s.sheet,
	}
}

func (s *session) sheet(c *cli.Context) error {
	if err := argCount(c, 1, 1, "the id of one descent (gradeline list shows them)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	paper := export.Letter
	switch strings.ToLower(c.String("paper")) {
	case "letter":
	case "a4":
		paper = export.A4
	default:
		return usagef("--paper %q: use letter or a4", c.String("paper"))
	}
	draw := export.SheetHTML
	switch out := strings.ToLower(c.String("o")); {
	case strings.HasSuffix(out, ".pdf"):
		draw = export.SheetPDF
	case out != "" && out != "-" && !strings.HasSuffix(out, ".html"):
		return usagef("-o %s: the file must end in .html or .pdf", c.String("o"))
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	class := c.String("class")
	hold := holdFor(&e, class)
	if class == "" || hold == nil {
		return usagef("sheet needs --class with one of %s", listed(export.Classes([]catalog.Entry{e})))
	}
	page := export.Sheet{Entry: e, Class: class, Toward: c.String("toward"), Units: u}
	if page.View, err = descentView(c, cat, &e, hold); err != nil {
		return err
	}
	if page.Sites, err = sheetSites(c.Context, cat, &e); err != nil {
		return err
	}
	if err := labelClass(c, &page); err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return draw(w, page, paper) })
}

// labelClass adds the class's name and engine speed band, where the classes in
// use know it.
func labelClass(c *cli.Context, page *export.Sheet) error {
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	for _, k := range classes {
		if k.ID == page.Class {
			v := k.View()
			page.ClassLabel, page.LowRPM, page.HighRPM, page.Stages = k.Name, v.EngineMinRPM, v.EngineMaxRPM, k.Truck.StageCount()
		}
	}
	return nil
}

// sheetSites are the sites that serve the descent, a mile before it and after.
func sheetSites(ctx context.Context, cat *store.Catalog, e *catalog.Entry) ([]export.Site, error) {
	const aroundM = 1609.344
	dir := e.Descent.Direction
	list, err := cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &dir,
		FromM: max(0, min(e.Descent.StartM, e.Descent.EndM)-aroundM), ToM: max(e.Descent.StartM, e.Descent.EndM) + aroundM})
	if err != nil {
		return nil, err
	}
	words := map[catalog.SiteKind]string{catalog.BrakeCheck: export.SiteBrakeCheck, catalog.EscapeRamp: export.SiteRamp,
		catalog.ChainUp: "chain-up area", catalog.Pullout: "pullout"}
	var out []export.Site
	for _, x := range list {
		if w := words[x.Kind]; w != "" && x.StationM != nil {
			out = append(out, export.Site{Kind: w, Name: x.Name, StationM: *x.StationM, Side: x.Side})
		}
	}
	return out, nil
}
