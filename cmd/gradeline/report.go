package main

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"math"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/page"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

func (s *session) reportCommand() *cli.Command {
	return &cli.Command{
		Name: "report", Usage: "one self-contained HTML page: map, profiles, tables; opens offline",
		Flags: append(append(filterFlags(), terrainFlags()...), classesFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "signs", Usage: "with the strip plan of the signs that each descent warrants"}, rulesFlag(), approachFlag(),
			&cli.StringFlag{Name: "title", Value: "Mountain descents", Usage: "`TITLE` of the page"}),
		Action: s.report,
	}
}

func (s *session) report(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	cat, es, err := chosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	r := page.Report{Title: c.String("title"), Units: u, Class: c.String("class")}
	for i := range es {
		view, err := descentView(c, cat, &es[i], catalog.HoldFor(es[i].Holds, c.String("class")))
		if err != nil {
			return err
		}
		sites, err := sheetSites(c.Context, cat, &es[i])
		if err != nil {
			return err
		}
		r.Entries = append(r.Entries, page.ReportEntry{Entry: es[i], View: view, Sites: sites})
	}
	if c.Bool("signs") {
		if err := s.addStrips(c, cat, r.Entries, u); err != nil {
			return err
		}
	}
	if r.Classes, err = reportClasses(c, es); err != nil {
		return err
	}
	if len(c.StringSlice("terrain")) > 0 && len(es) > 0 {
		surface, err := openTerrain(c)
		if err != nil {
			return err
		}
		defer surface.Close()
		if r.Hillshade, err = hillshade(c.Context, surface, es); err != nil {
			return err
		}
	}
	return s.toOutput(c, func(w io.Writer) error { return page.ReportHTML(w, r) })
}

// addStrips draws the strip plan of each descent.
func (s *session) addStrips(c *cli.Context, cat *store.Catalog, list []page.ReportEntry, u catalog.Units) error {
	rules, err := signRules(c.String("rules"))
	if err != nil {
		return err
	}
	approachMPS, _, err := quantityFlag(c, "approach", catalog.SpeedMPS)
	if err != nil {
		return err
	}
	for i := range list {
		var a signsAnswer
		if err := s.planSigns(c, cat, &list[i].Entry, signPlan{rules: rules, approachMPS: approachMPS}, &a); err != nil {
			return err
		}
		var strip bytes.Buffer
		if err := plot.StripSVG(&strip, a.Schedules[0], u); err != nil {
			return err
		}
		list[i].Strip = strip.Bytes()
		list[i].StripWords = fmt.Sprintf("Strip plan of %d signs by %s.", len(a.Schedules[0].Placements), a.Schedules[0].Title)
	}
	return nil
}

// reportClasses names the classes that the entries have answers for.
func reportClasses(c *cli.Context, es []catalog.Entry) ([]page.ReportClass, error) {
	classes, err := loadClasses(c)
	if err != nil {
		return nil, err
	}
	name := map[string]string{}
	for _, k := range classes {
		name[k.ID] = k.Name
	}
	var out []page.ReportClass
	for _, id := range wording.Classes(es) {
		label := name[id]
		if label == "" {
			label = id
		}
		out = append(out, page.ReportClass{ID: id, Label: label})
	}
	return out, nil
}

// hillshade samples the surface over the descents' extent and a margin.
func hillshade(ctx context.Context, surface terrain.Surface, es []catalog.Entry) (*plot.Hillshade, error) {
	const most = 700 // cells a side: what a screen shows
	h := &plot.Hillshade{WestDeg: 180, SouthDeg: 90, EastDeg: -180, NorthDeg: -90}
	for i := range es {
		for _, v := range es[i].Line {
			h.WestDeg, h.EastDeg = math.Min(h.WestDeg, v.LonDeg), math.Max(h.EastDeg, v.LonDeg)
			h.SouthDeg, h.NorthDeg = math.Min(h.SouthDeg, v.LatDeg), math.Max(h.NorthDeg, v.LatDeg)
		}
	}
	if h.EastDeg-h.WestDeg > 90 {
		return nil, nil // across the antimeridian or half the world: no map would help
	}
	stretch := math.Cos((h.SouthDeg + h.NorthDeg) / 2 * math.Pi / 180)
	margin := 0.15 * math.Max(h.NorthDeg-h.SouthDeg, (h.EastDeg-h.WestDeg)*stretch)
	h.SouthDeg, h.NorthDeg = h.SouthDeg-margin, h.NorthDeg+margin
	h.WestDeg, h.EastDeg = h.WestDeg-margin/stretch, h.EastDeg+margin/stretch
	stepDeg := math.Max(h.NorthDeg-h.SouthDeg, (h.EastDeg-h.WestDeg)*stretch) / most
	h.Rows = max(2, int((h.NorthDeg-h.SouthDeg)/stepDeg))
	h.Cols = max(2, int((h.EastDeg-h.WestDeg)*stretch/stepDeg))
	points := make([]terrain.Point, 0, h.Rows*h.Cols)
	for r := range h.Rows {
		for c := range h.Cols {
			points = append(points, terrain.Point{
				LonDeg: h.WestDeg + (float64(c)+0.5)/float64(h.Cols)*(h.EastDeg-h.WestDeg),
				LatDeg: h.NorthDeg - (float64(r)+0.5)/float64(h.Rows)*(h.NorthDeg-h.SouthDeg),
			})
		}
	}
	samples := make([]terrain.Sample, len(points))
	if err := surface.Sample(ctx, points, samples); err != nil {
		return nil, err
	}
	for _, x := range samples {
		h.ElevationM = append(h.ElevationM, x.ElevationM)
	}
	return h, nil
}
