package answer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/page"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wholefile"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// SheetOptions are a person's choices for a driver's page.
type SheetOptions struct {
	Class      string
	Classes    []vehicle.Class // for the name of the class and its country's units
	Units      *catalog.Units  // nil for those of the class's country
	Paper      page.Paper
	Toward     string
	Dispatcher string
	Note       string
	Printed    time.Time
	// Weather is that of the day, for which the advice is worked out again on the stored grade line;
	// nil for the stored advice.
	Weather *catalog.Weather
}

// SheetOf collects the content of a driver's page. A class without an answer is an error that
// is catalog.ErrClass.
func SheetOf(ctx context.Context, cat *store.Catalog, e *catalog.Entry, o SheetOptions) (page.Sheet, error) {
	s, line, err := sheetFor(ctx, cat, e, o.Class, o.Classes)
	if err == nil && o.Weather != nil {
		err = inWeather(&s, line, o.Classes, o.Weather)
	}
	if o.Units != nil {
		s.Units = *o.Units
	}
	s.Toward, s.Dispatcher, s.Note, s.Printed = o.Toward, o.Dispatcher, o.Note, o.Printed
	return s, err
}

// inWeather works the advice of a page out again for the weather of a day. What cannot be worked out
// again is an error that is catalog.ErrClass, never the stored advice.
func inWeather(s *page.Sheet, line *routes.Profile, classes []vehicle.Class, w *catalog.Weather) error {
	fault := func(why, fix string) error {
		return &catalog.Fault{Kind: catalog.ErrClass, Feature: s.Entry.Descent.ID, What: fmt.Sprintf("no advice of class %s for %s: %s", s.Class, w.Words(catalog.Metric), why), Fix: fix}
	}
	const surveyed = "survey its road for that weather: gradeline survey --temperature"
	i := slices.IndexFunc(classes, func(k vehicle.Class) bool { return k.ID == s.Class })
	if i < 0 {
		return fault("its figures are not known", "name its class file (--classes)")
	}
	h := catalog.HoldFor(s.Entry.Holds, s.Class)
	o := holding.Options{MassKg: h.MassKg, Weather: w}
	if math.Abs(h.MassKg-classes[i].MassMaxKg) < 1 { // for all masses of the class, as stored
		o.MassKg = 0
	}
	now, why, err := adviseStored(line, &s.Entry, h, &classes[i], o)
	switch {
	case err != nil:
		return err
	case now == nil:
		return fault(cmp.Or(why, "the hill cannot be computed from its stored grade line"), surveyed)
	}
	s.Entry.Holds, s.IsOfTheDay = []catalog.Hold{*now}, true
	return nil
}

// SheetDrawer is the function that draws a page to a file of that name, by its ending: .pdf, or .html
// and "" for standard output. It is nil for any other ending.
func SheetDrawer(file string) func(io.Writer, page.Sheet, page.Paper) error {
	switch low := strings.ToLower(file); {
	case strings.HasSuffix(low, ".pdf"):
		return page.SheetPDF
	case file == "", file == "-", strings.HasSuffix(low, ".html"):
		return page.SheetHTML
	}
	return nil
}

// WriteSheets writes a PDF page for each of some descents into a folder, made where there is none, named
// after the descent and the class. A page that fails is a gap, in words, and the work
// continues. Only an interrupt or a folder that can't be written ends it.
func WriteSheets(ctx context.Context, cat *store.Catalog, es []catalog.Entry, dir string, replace bool, o SheetOptions) (gaps []string, err error) {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return nil, &catalog.Fault{File: dir, What: "cannot be created", Err: wholefile.WithoutPath(err), Fix: "check the folder above it"}
	}
	for i := range es {
		if err := ctx.Err(); err != nil {
			return gaps, err
		}
		err := writeSheet(ctx, cat, &es[i], dir, replace, o)
		switch {
		case err == nil:
		case ctx.Err() != nil || !isOfOnePage(err):
			return gaps, err
		default:
			gaps = append(gaps, fmt.Sprintf("no page: %v", err))
		}
	}
	return gaps, nil
}

// isOfOnePage reports whether an error concerns one page only.
func isOfOnePage(err error) bool {
	for _, kind := range []error{terrain.ErrInput, catalog.ErrImpossible, catalog.ErrClass, catalog.ErrNotFound, fs.ErrExist} {
		if errors.Is(err, kind) {
			return true
		}
	}
	return false
}

func writeSheet(ctx context.Context, cat *store.Catalog, e *catalog.Entry, dir string, replace bool, o SheetOptions) error {
	id := e.Descent.ID
	name := id + "-" + o.Class + ".pdf"
	if filepath.Base(name) != name || len(name) > mostFileNameBytes { // a catalogue made by hand may hold any id
		return &catalog.Fault{Kind: terrain.ErrInput, Feature: wording.Shortened(id, 80), What: "this name cannot be a file name", Fix: "print its page alone: sheet DESCENT -o FILE"}
	}
	s, err := SheetOf(ctx, cat, e, o)
	if err != nil {
		return err
	}
	return wholefile.WriteFile(filepath.Join(dir, name), replace, func(w io.Writer) error { return page.SheetPDF(w, s, o.Paper) })
}

// mostFileNameBytes leaves room for the temporary file's ending in the 255 bytes of a
// file's name (POSIX NAME_MAX of common file systems).
const mostFileNameBytes = 220
