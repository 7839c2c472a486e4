package answer

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/page"
	"gradeline/catalog/plansheet"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// ViewOf is a drawing of a descent on its stored grade line, or without one on the line of the
// entry. h gives the mark for the gear and may be nil.
func ViewOf(ctx context.Context, cat *store.Catalog, e *catalog.Entry, h *catalog.Hold) (plot.ProfileView, error) {
	p, err := cat.Profile(ctx, e.Descent.ID)
	if errors.Is(err, catalog.ErrNotFound) {
		return plot.ViewFromEntry(e, h), nil
	}
	if err != nil {
		return plot.ProfileView{}, err
	}
	return plot.ViewFromProfile(p, e, h, math.Inf(1)), nil
}

// sheetFor collects the content of the driver's page for a descent and class, and the stored grade
// line; nil where none is. classes provide the name of the class, and the units of its country for
// the page. A class without an answer is an error that is catalog.ErrClass.
func sheetFor(ctx context.Context, cat *store.Catalog, e *catalog.Entry, classID string, classes []vehicle.Class) (page.Sheet, *routes.Profile, error) {
	s := page.Sheet{Entry: *e, Class: classID}
	newer, line, err := cat.Harsher(ctx, e, classID)
	if err != nil {
		return s, nil, err
	}
	if newer != nil {
		s.Entry, s.IsWaiting = *newer, true
		e = &s.Entry
	}
	hold := catalog.HoldFor(e.Holds, classID)
	if classID == "" || hold == nil {
		return s, nil, &catalog.Fault{Kind: catalog.ErrClass, Feature: e.Descent.ID, What: fmt.Sprintf("no answer for class %q", classID), Fix: fmt.Sprintf("use one of %v", wording.Classes([]catalog.Entry{*e}))}
	}
	for i := range classes {
		if k := &classes[i]; k.ID == classID {
			s.ClassLabel, s.Units, s.Brakes = k.Name, k.Units, brakesOf(k)
		}
	}
	if !s.IsWaiting {
		if line, err = storedLine(ctx, cat, e); err != nil {
			return s, nil, err
		}
	}
	s.View = plot.ViewFromEntry(e, hold)
	if line != nil {
		s.View = plot.ViewFromProfile(line, e, hold, math.Inf(1))
	}
	s.Sites, err = sheetSites(ctx, cat, e)
	return s, line, err
}

// brakesOf is the kind of a class's service brakes.
func brakesOf(k *vehicle.Class) wording.BrakeKind {
	if k.Truck.ServiceBrakes.IsDisc() {
		return wording.DiscBrakes
	}
	return wording.DrumBrakes
}

// sheetSites are the sites that serve the descent, a mile before it and after.
func sheetSites(ctx context.Context, cat *store.Catalog, e *catalog.Entry) ([]catalog.Site, error) {
	const aroundM = catalog.MileM
	dir := e.Descent.Direction
	return cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route, Direction: &dir,
		FromM: max(0, min(e.Descent.StartM, e.Descent.EndM)-aroundM), ToM: max(e.Descent.StartM, e.Descent.EndM) + aroundM})
}

// FindPage names the driver's page of the catalogue that has a fingerprint; for the weather of a day
// (nil for the stored advice) among the pages that SheetOf makes for it. An unknown fingerprint is an
// error: that page is not current.
func FindPage(ctx context.Context, cat *store.Catalog, mark string, classes []vehicle.Class, w *catalog.Weather) (string, error) {
	es, err := cat.Descents(ctx, store.Filter{})
	if err != nil {
		return "", err
	}
	for i := range es {
		for _, h := range es[i].Holds {
			sheet, err := markedPage(ctx, cat, &es[i], SheetOptions{Class: h.Class, Classes: classes, Weather: w})
			if w != nil && errors.Is(err, catalog.ErrClass) { // no page of that weather
				continue
			}
			if err != nil {
				return "", err
			}
			now, err := sheet.Fingerprint()
			if err != nil {
				return "", err
			}
			if page.SameFingerprint(now, mark) {
				return fmt.Sprintf("CURRENT: page %s is that of %s (%s) for class %s. %s", now, wording.Title(&es[i].Descent), es[i].Descent.ID, h.Class, wording.ReviewLine(&es[i])), nil
			}
		}
	}
	return "", &catalog.Fault{File: cat.Path(), What: "page " + strings.ToUpper(mark) + " is NOT CURRENT: no page of this catalogue has that fingerprint",
		Fix: "withdraw that page and print it again; check a page that was printed from another catalogue there, and one for the weather of a day with its --temperature and --tailwind"}
}

// markedPage is a page as far as its fingerprint depends on it.
func markedPage(ctx context.Context, cat *store.Catalog, e *catalog.Entry, o SheetOptions) (page.Sheet, error) {
	if o.Weather != nil {
		return SheetOf(ctx, cat, e, o)
	}
	s := page.Sheet{Entry: *e, Class: o.Class}
	newer, _, err := cat.Harsher(ctx, e, o.Class)
	if err != nil {
		return s, err
	}
	if newer != nil {
		s.Entry = *newer
	}
	s.Sites, err = sheetSites(ctx, cat, &s.Entry)
	return s, err
}

// RoadLines are the lines of all descents of the catalogue, for an overlay that stays clear of
// other roads.
func RoadLines(ctx context.Context, cat *store.Catalog) ([]overlay.RoadLine, error) {
	es, err := cat.Descents(ctx, store.Filter{NoHolds: true})
	if err != nil {
		return nil, err
	}
	var out []overlay.RoadLine
	for i := range es {
		out = append(out, overlay.RoadLine{Route: es[i].Descent.Route, Line: es[i].Line})
	}
	return out, nil
}

// ReportOptions set the content of a report in addition to its entries.
type ReportOptions struct {
	Title   string
	Units   catalog.Units
	Class   string            // whose gear is marked; "" for the heaviest
	Classes []vehicle.Class   // for the names of the classes
	Signs   *SignPlan         // for strip plans; nil for none
	Terrain terrain.Surface   // under the map; nil for none
	Filter  store.Filter      // of steep parts outside descents
	Steep   *store.SteepParts // those parts themselves, where they are known already
	Program *page.Program     // to try other trucks offline; nil for none
}

// ReportFor collects the content of a report of some entries.
func ReportFor(ctx context.Context, cat *store.Catalog, es []catalog.Entry, o ReportOptions) (page.Report, error) {
	r := page.Report{Title: o.Title, Units: o.Units, Class: o.Class, Program: o.Program}
	for i := range es {
		x := page.ReportEntry{Entry: es[i]}
		var err error
		if x.View, err = ViewOf(ctx, cat, &es[i], catalog.HoldFor(es[i].Holds, o.Class)); err == nil {
			x.Sites, err = sheetSites(ctx, cat, &es[i])
		}
		if err == nil && o.Signs != nil {
			err = addStrip(ctx, cat, &x, o)
		}
		if err == nil && o.Program != nil {
			x.GradeLine, err = gradeLineJSON(ctx, cat, &es[i])
		}
		if err != nil {
			return r, err
		}
		r.Entries = append(r.Entries, x)
	}
	names := map[string]string{}
	for _, k := range o.Classes {
		names[k.ID] = k.Name
	}
	for _, id := range wording.Classes(es) {
		label := names[id]
		if label == "" {
			label = id
		}
		r.Classes = append(r.Classes, page.ReportClass{ID: id, Label: label})
	}
	parts, err := steepPartsFor(ctx, cat, o.Filter, o.Steep)
	if err != nil {
		return r, err
	}
	r.SteepParts, r.SteepNote = parts.Parts, wording.SteepPartsNote(parts.PossibleM, parts.Unknown, o.Units)
	if o.Terrain != nil && len(es) > 0 {
		r.Hillshade, err = shadeAround(ctx, o.Terrain, es)
	}
	return r, err
}

// addStrip draws the plan sheets of a descent's signs.
func addStrip(ctx context.Context, cat *store.Catalog, x *page.ReportEntry, o ReportOptions) error {
	a, err := NewSigns(ctx, cat, []catalog.Entry{x.Entry}, o.Signs)
	if err != nil {
		return err
	}
	sheets, err := plansheet.Sheets(a.SheetSet(0, o.Units))
	if err != nil {
		return err
	}
	for _, s := range sheets {
		x.Sheets = append(x.Sheets, page.PlanSheet{SVG: s.SVG, Words: s.Title})
	}
	x.SheetWords = fmt.Sprintf("Plan sheets of %d signs by %s.", len(a.Schedules[0].Placements), a.Schedules[0].Title)
	return nil
}
