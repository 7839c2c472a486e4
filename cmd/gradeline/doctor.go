package main

import (
	"errors"
	"fmt"
	"os"
	"runtime"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/data"
	"gradeline/terrain/raster"
)

func isNotFound(err error) bool { return errors.Is(err, catalog.ErrNotFound) }

func (s *session) doctorCommand() *cli.Command {
	return &cli.Command{
		Name: "doctor", Usage: "libraries, data files and the health of a catalogue",
		Flags: []cli.Flag{catalogFlag(), classesFlag(), jsonFlag(),
			&cli.BoolFlag{Name: "repair", Usage: "put right in the catalogue what the rest of it proves, and take the data of a refused one over into a clean file; the old one is kept"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.BoolFlag{Name: "notices", Usage: "print the licences of what the program contains"}},
		Action: s.doctor,
	}
}

// check is one thing that doctor looked at.
type check struct {
	What string `json:"what"`
	OK   bool   `json:"ok"`
	Says string `json:"says"`
}

type doctorAnswer struct {
	Schema string  `json:"schema"`
	Checks []check `json:"checks"`
}

func (s *session) doctor(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	if c.Bool("notices") {
		text, err := data.Files.ReadFile("notices.txt")
		if err == nil {
			_, err = s.out.Write(text)
		}
		return err
	}
	a := doctorAnswer{Schema: catalog.Schema}
	add := func(what string, err error, says string) {
		if err != nil {
			says = wording.OneLine(err.Error())
		}
		a.Checks = append(a.Checks, check{what, err == nil, says})
	}
	gdal, proj := raster.Version()
	add("gradeline", nil, version+", "+runtime.Version())
	add("GDAL", nil, gdal)
	add("PROJ and its data", raster.SelfTest(), proj)
	add("SQLite", nil, store.Version())
	classes, err := loadClasses(c)
	add("weight classes", err, fmt.Sprintf("%d", len(classes)))
	if _, err := holding.DefaultClasses(); err != nil {
		add("built-in weight classes", err, "")
	}
	path := c.String("catalog")
	if _, err := os.Stat(path); err != nil && !c.IsSet("catalog") && !c.Bool("repair") {
		add("catalogue", nil, fmt.Sprintf("none at %s; create one with gradeline survey", path))
	} else {
		s.checkCatalog(c, path, add)
	}
	if c.Bool("json") {
		if err := s.printJSON(a); err != nil {
			return err
		}
	} else {
		for _, k := range a.Checks {
			state := "ok   "
			if !k.OK {
				state = "FAULT"
			}
			fmt.Fprintf(s.out, "%s  %-24s %s\n", state, k.What, k.Says)
		}
	}
	for _, k := range a.Checks {
		if !k.OK {
			return fmt.Errorf("doctor found faults: see above")
		}
	}
	return nil
}

// checkCatalog adds what doctor finds in a catalogue and, where asked, what it repaired.
func (s *session) checkCatalog(c *cli.Context, path string, add func(what string, err error, says string)) {
	o := store.Options{Tool: "gradeline " + version, Waiting: s.tellWaiting(nil)}
	var r store.RepairReport
	var err error
	if c.Bool("repair") {
		r, err = store.RepairFile(c.Context, path, c.String("by"), o)
	} else {
		r.Left, err = store.ExamineFile(c.Context, path, o)
	}
	for _, f := range r.Findings {
		if f.Repaired {
			add("catalogue: "+f.Check, nil, fmt.Sprintf("repaired: %s: %s", f.Where, f.What))
		}
	}
	if r.Kept != "" {
		add("catalogue: kept", nil, "the file as it was is "+r.Kept)
	}
	for _, f := range r.Left {
		add("catalogue: "+f.Check, &catalog.Fault{Feature: f.Where, What: f.What, Fix: f.Fix}, "")
	}
	switch {
	case err != nil:
		add("catalogue", err, "")
	case len(r.Left) == 0:
		add("catalogue", nil, path+": no fault found")
	}
}
