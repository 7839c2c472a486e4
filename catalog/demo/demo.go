// Package demo is the complete job on the embedded, invented example: the files that it starts
// from, the commands that a user would type, and the files in the folder at the end. The input
// is a folder and a function that runs one command line of gradeline; the output is the files.
// The printed text goes to the given writer. Errors are faults with the file or the step that
// failed. A folder that holds an earlier demo is refused unless it may be replaced.
package demo

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plot"
	"gradeline/catalog/store"
	"gradeline/catalog/wholefile"
	"gradeline/catalog/wording"
	"gradeline/data"
)

// Options set the demo's folder and units.
type Options struct {
	Dir       string
	Program   string // how the user called the program; the last lines repeat it
	Replace   bool   // an earlier demo in that folder
	Units     catalog.Units
	UnitsName string // as the command line names them
	// UnitsChosen is true where the user chose the units. Otherwise a driver's page has those of
	// its class's country.
	UnitsChosen bool
}

// inputs are the embedded files with which the demo starts.
var inputs = []string{"terrain.tif", "routes.geojson", "sites.geojson", "standing.geojson", "drive.gpx"}

// pageClass is the class of the demo's driver's page.
const pageClass = "us-5axle"

// Play runs the demo. Each step is a command line without the program's name; run runs it
// and returns an error if it failed.
func Play(ctx context.Context, out io.Writer, o Options, run func(args []string) error) error {
	if err := o.prepare(); err != nil {
		return err
	}
	if _, err := fmt.Fprintln(out, wording.InventedBanner); err != nil {
		return err
	}
	if err := o.play(out, o.surveySteps(), run); err != nil {
		return err
	}
	es, err := o.entries(ctx)
	if err != nil {
		return err
	}
	if err := o.play(out, o.handOutSteps(es), run); err != nil {
		return err
	}
	if err := o.drawProfiles(ctx, es); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "\nLeft in %s: the catalogue demo.gpkg, overlays, a driver's page, a report, the grade lines profile.csv and a profile plot of each descent; an invented drive drive.gpx for debrief, invented signs standing.geojson for an audit.\nNext: %s show --catalog %s %s\nThe examples of every command's --help run in that folder, with gradeline installed: cd %s\n",
		o.Dir, o.Program, o.file("demo.gpkg"), es[0].Descent.ID, o.Dir)
	return err
}

func (o *Options) file(name string) string { return filepath.Join(o.Dir, name) }

// prepare makes the folder with the embedded files in it and no catalogue.
func (o *Options) prepare() error {
	catalogFile := o.file("demo.gpkg")
	if _, err := os.Stat(catalogFile); err == nil && !o.Replace {
		return &catalog.Fault{Kind: store.ErrWrite, File: o.Dir, What: "holds an earlier demo", Fix: "name another folder with -o, or add --force"}
	}
	if err := os.MkdirAll(o.Dir, 0o777); err != nil {
		return &catalog.Fault{Kind: store.ErrWrite, File: o.Dir, What: "cannot be created", Err: errors.Unwrap(err), Fix: "check the folder above it"}
	}
	for _, name := range inputs {
		b, err := fs.ReadFile(data.Files, "demo/"+name)
		if err != nil {
			return err
		}
		if err := wholefile.WriteFile(o.file(name), true, func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
			return err
		}
	}
	return os.RemoveAll(catalogFile)
}

// play prints each step as a user would type it, and runs it.
func (o *Options) play(out io.Writer, steps [][]string, run func(args []string) error) error {
	for _, args := range steps {
		if _, err := fmt.Fprintf(out, "\n$ gradeline %s\n", strings.Join(args, " ")); err != nil {
			return err
		}
		if err := run(args); err != nil {
			return fmt.Errorf("the demo's step %q: %w", args[0], err)
		}
	}
	return nil
}

// surveySteps find the descents and import the places along the roads.
func (o *Options) surveySteps() [][]string {
	return [][]string{
		{"survey", "--terrain", o.file("terrain.tif"), "--catalog", o.file("demo.gpkg"), "--profile", o.file("profile.csv"),
			"--force", "--invented", "--by", "demo", o.file("routes.geojson"), "--units", o.UnitsName},
		{"sites", "import", o.file("sites.geojson"), "--catalog", o.file("demo.gpkg"), "--by", "demo"},
	}
}

// handOutSteps write the documents that an office gives to others: overlays for the heaviest class,
// the page of the longest descent, a report.
func (o *Options) handOutSteps(es []catalog.Entry) [][]string {
	heaviest, longest := catalog.HoldFor(es[0].Holds, "").Class, &es[0]
	for i := range es {
		if es[i].Descent.LengthM > longest.Descent.LengthM {
			longest = &es[i]
		}
	}
	sheet := []string{"sheet", longest.Descent.ID, "--class", pageClass, "-o", o.file("sheet.pdf")}
	if o.UnitsChosen {
		sheet = append(sheet, "--units", o.UnitsName)
	}
	steps := [][]string{
		{"overlay", "descents", "-o", o.file("descents.geojson")},
		{"overlay", "holds", "--class", heaviest, "-o", o.file("holds.geojson")},
		{"overlay", "avoid", "--class", heaviest, "-o", o.file("avoid.geojson")},
		{"overlay", "avoid", "--class", heaviest, "--shape", "line", "-o", o.file("avoid-lines.geojson")},
		sheet,
		{"report", "--terrain", o.file("terrain.tif"), "-o", o.file("report.html"), "--units", o.UnitsName},
	}
	for i := range steps {
		steps[i] = append(steps[i], "--catalog", o.file("demo.gpkg"), "--force")
	}
	return steps
}

// entries reads the demo's descents, most dangerous first; there is at least one, with
// advice.
func (o *Options) entries(ctx context.Context) ([]catalog.Entry, error) {
	cat, err := store.Open(ctx, o.file("demo.gpkg"), store.Options{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	es, err := cat.Descents(ctx, store.Filter{})
	if err == nil && (len(es) == 0 || len(es[0].Holds) == 0) {
		err = &catalog.Fault{File: o.file("demo.gpkg"), What: "no descent was found, or no advice for it", Fix: "the embedded example is damaged; build the program again"}
	}
	return es, err
}

// drawProfiles draws the profile of every descent.
func (o *Options) drawProfiles(ctx context.Context, es []catalog.Entry) error {
	cat, err := store.Open(ctx, o.file("demo.gpkg"), store.Options{ReadOnly: true})
	if err != nil {
		return err
	}
	defer cat.Close()
	for i := range es {
		view, err := answer.ViewOf(ctx, cat, &es[i], catalog.HoldFor(es[i].Holds, ""))
		if err != nil {
			return err
		}
		draw := func(w io.Writer) error { return plot.ProfileSVG(w, view, o.Units) }
		if err := wholefile.WriteFile(o.file(es[i].Descent.ID+".svg"), true, draw); err != nil {
			return err
		}
	}
	return nil
}
