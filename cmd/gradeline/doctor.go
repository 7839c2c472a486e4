package main

import (
	"fmt"
	"runtime"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/holding"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
	"gradeline/data"
	"gradeline/terrain/raster"
)

func (s *session) doctorCommand() *cli.Command {
	return &cli.Command{
		Name: "doctor", Usage: "libraries, data files and the health of a catalogue",
		Flags: []cli.Flag{catalogFlag(), classesFlag(), jsonFlag(),
			&cli.BoolFlag{Name: "repair", Usage: "repair what the rest of the catalogue proves; copy the data of a refused catalogue into a clean file; the old file is kept"},
			&cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history"},
			&cli.BoolFlag{Name: "notices", Usage: "print the licences of what the program contains"}},
		Action: s.doctor,
	}
}

func (s *session) doctor(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	if c.Bool("notices") {
		text, err := data.Files.ReadFile("notices.txt")
		if err == nil {
			_, err = s.out.Write(text)
		}
		return err
	}
	a := &answer.Doctor{Schema: catalog.Schema}
	gdal, proj := raster.Version()
	a.Add("gradeline", nil, version+", "+runtime.Version())
	a.Add("GDAL", nil, gdal)
	a.Add("PROJ and its data", raster.SelfTest(), proj)
	a.Add("SQLite", nil, store.Version())
	classes, err := loadClasses(c)
	a.Add("weight classes", err, fmt.Sprintf("%d", len(classes)))
	if _, err := holding.DefaultClasses(); err != nil {
		a.Add("built-in weight classes", err, "")
	}
	path := c.String("catalog")
	if isThere, _ := store.Exists(c.Context, path); !isThere && !c.IsSet("catalog") && !c.Bool("repair") {
		a.Add("catalogue", nil, fmt.Sprintf("none at %s; create one with gradeline survey", path))
	} else {
		s.checkCatalog(c, path, a)
	}
	if err := s.answer(c, a, catalog.Metric); err != nil {
		return err
	}
	if !a.IsSound() {
		return fmt.Errorf("doctor found faults: see above")
	}
	return nil
}

// checkCatalog adds the faults of a catalogue and, with --repair, the repairs.
func (s *session) checkCatalog(c *cli.Context, path string, a *answer.Doctor) {
	o := store.Options{Tool: "gradeline " + version, Waiting: s.tellWaiting(nil)}
	if c.Bool("repair") {
		r, err := store.RepairFile(c.Context, path, c.String("by"), o)
		a.AddCatalog(store.NameOf(path), r, err)
		a.AddDrives(c.Context, path, o)
		return
	}
	a.AddDatabase(c.Context, path)
	found, err := store.ExamineFile(c.Context, path, o)
	a.AddCatalog(store.NameOf(path), store.RepairReport{Left: found}, err)
	if len(found) == 0 && err == nil {
		a.AddDrives(c.Context, path, o)
	}
}
