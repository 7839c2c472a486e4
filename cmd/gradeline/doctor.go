package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
	"gradeline/data"
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
	classes, err := loadClasses(c)
	a := answer.NewDoctor(version, len(classes), err)
	path := c.String("catalog")
	o := answer.DoctorOptions{Options: store.Options{Tool: "gradeline " + version, Waiting: s.tellWaiting(nil)}, IsOptional: !c.IsSet("catalog"), Repair: c.Bool("repair"), By: c.String("by")}
	a.ExamineCatalog(c.Context, path, o)
	if err := s.answer(c, a, catalog.Metric); err != nil {
		return err
	}
	if !a.IsSound() {
		return fmt.Errorf("doctor found faults: see above")
	}
	return nil
}
