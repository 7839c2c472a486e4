package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/catalog/wholefile"
	"gradeline/catalog/wording"
	"gradeline/cmd/commandline"
	"gradeline/data"
)

func (s *session) demoCommand() *cli.Command {
	return &cli.Command{
		Name: "demo", Usage: "the whole job on an embedded, invented example",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "o", Value: "gradeline-demo", Usage: "`FOLDER` to leave the results in"},
			unitsFlag(), forceFlag(),
		},
		Action: s.demo,
	}
}

// demo runs the tool's own commands on the embedded files, as a user would.
func (s *session) demo(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	dir := c.String("o")
	if _, err := os.Stat(filepath.Join(dir, "demo.gpkg")); err == nil && !c.Bool("force") {
		return &catalog.Fault{Kind: store.ErrWrite, File: dir, What: "holds an earlier demo", Fix: "give another folder with -o, or --force"}
	}
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return &catalog.Fault{Kind: store.ErrWrite, File: dir, What: "cannot be made", Err: unwrapPath(err), Fix: "check the folder above it"}
	}
	file := func(name string) string { return filepath.Join(dir, name) }
	for _, name := range []string{"terrain.tif", "routes.geojson", "sites.geojson", "standing.geojson", "drive.gpx"} {
		b, err := fs.ReadFile(data.Files, "demo/"+name)
		if err != nil {
			return err
		}
		if err := wholefile.WriteFile(file(name), true, func(w io.Writer) error { _, err := w.Write(b); return err }); err != nil {
			return err
		}
	}
	if err := os.RemoveAll(file("demo.gpkg")); err != nil {
		return err
	}
	unit := []string{"--units", c.String("units")}
	step := func(args ...string) error {
		fmt.Fprintf(s.out, "\n$ gradeline %s\n", strings.Join(args, " "))
		if code := run(c.Context, append([]string{"gradeline"}, args...), s.in, s.out, s.err); code != exitDone {
			return fmt.Errorf("the demo's step %q ended with exit code %d", args[0], code)
		}
		return nil
	}
	fmt.Fprintln(s.out, wording.InventedBanner)
	if err := step(append([]string{"survey", "--terrain", file("terrain.tif"), "--catalog", file("demo.gpkg"),
		"--profile", file("profile.csv"), "--force", "--invented", "--by", "demo", file("routes.geojson")}, unit...)...); err != nil {
		return err
	}
	if err := step("sites", "import", file("sites.geojson"), "--catalog", file("demo.gpkg"), "--by", "demo"); err != nil {
		return err
	}
	es, err := s.demoEntries(c, file("demo.gpkg"))
	if err != nil {
		return err
	}
	if len(es) == 0 {
		return fmt.Errorf("the demo found no descent: the embedded example is damaged")
	}
	heaviest := catalog.HoldFor(es[0].Holds, "").Class
	for _, args := range [][]string{
		{"overlay", "descents", "-o", file("descents.geojson")},
		{"overlay", "holds", "--class", heaviest, "-o", file("holds.geojson")},
		{"overlay", "avoid", "--class", heaviest, "-o", file("avoid.geojson")},
		{"overlay", "avoid", "--class", heaviest, "--shape", "line", "-o", file("avoid-lines.geojson")},
		{"sheet", longest(es).Descent.ID, "--class", "us-5axle", "-o", file("sheet.pdf"), "--units", c.String("units")},
		{"report", "--terrain", file("terrain.tif"), "-o", file("report.html"), "--units", c.String("units")},
	} {
		if err := step(append(args, "--catalog", file("demo.gpkg"), "--force")...); err != nil {
			return err
		}
	}
	if err := s.demoPlots(c, es, file, u); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "\nLeft in %s: the catalogue demo.gpkg, overlays, a driver's page, a report, the grade lines profile.csv and a profile plot of each descent; an invented drive drive.gpx for debrief, invented signs standing.geojson for an audit.\nNext: gradeline show --catalog %s %s\nThe examples of every command's --help run in that folder: cd %s\n",
		dir, file("demo.gpkg"), es[0].Descent.ID, dir)
	return nil
}

// longest is the longest descent.
func longest(es []catalog.Entry) *catalog.Entry {
	best := &es[0]
	for i := range es {
		if es[i].Descent.LengthM > best.Descent.LengthM {
			best = &es[i]
		}
	}
	return best
}

func (s *session) demoEntries(c *cli.Context, path string) ([]catalog.Entry, error) {
	cat, err := store.Open(c.Context, path, store.Options{ReadOnly: true})
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return cat.Descents(c.Context, store.Filter{})
}

// demoPlots draws the profile of every descent.
func (s *session) demoPlots(c *cli.Context, es []catalog.Entry, file func(string) string, u catalog.Units) error {
	cat, err := store.Open(c.Context, file("demo.gpkg"), store.Options{ReadOnly: true})
	if err != nil {
		return err
	}
	defer cat.Close()
	for i := range es {
		e := &es[i]
		view, err := answer.ViewOf(c.Context, cat, e, catalog.HoldFor(e.Holds, ""))
		if err != nil {
			return err
		}
		if err := s.plotTo(file(e.Descent.ID+".svg"), true, view, u); err != nil {
			return err
		}
	}
	return nil
}
