package main

import (
	"errors"
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

func (s *session) classesCommand() *cli.Command {
	return &cli.Command{
		Name: "classes", Usage: "weight classes and their trucks: list, check a file, print a template, or choose the catalogue's fleet",
		ArgsUsage: "list | check FILE | template | fleet [LIST]",
		Flags: []cli.Flag{classesFlag(), catalogFlag(), &cli.StringFlag{Name: "by", Usage: "`NAME` for the catalogue's history, of who chooses a fleet"},
			jsonFlag(), unitsFlag()},
		Action: s.classes,
	}
}

func (s *session) classes(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 2, "one of: list, check FILE, template, fleet"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	what := c.Args().First()
	if what != "check" && what != "fleet" && c.NArg() > 1 {
		return usagef("classes %s takes no further argument", what)
	}
	switch what {
	case "template":
		_, err := fmt.Fprint(s.out, vehicle.Template(u))
		return err
	case "check":
		if c.NArg() != 2 {
			return usagef("classes check needs the TOML file to check")
		}
		if err := c.Set("classes", c.Args().Get(1)); err != nil {
			return err
		}
		classes, err := loadClasses(c)
		if err != nil {
			return s.sayFaults(err)
		}
		if !c.IsSet("units") { // else those of the file's countries
			u = vehicle.CommonUnits(classes)
		}
		a, err := answer.CheckClasses(classes, u)
		if err != nil {
			return err
		}
		return s.answer(c, a, u)
	case "list":
		classes, err := loadClasses(c)
		if err != nil {
			return err
		}
		return s.answer(c, answer.NewClasses(classes), u)
	case "fleet":
		return s.classesFleet(c)
	}
	return usagef("classes has no %q%s", what, commandline.DidYouMean(what, []string{"list", "check", "template", "fleet"}))
}

// sayFaults prints each fault of a class file on its own line. It returns the last one, which ends
// the command.
func (s *session) sayFaults(err error) error {
	var faults vehicle.Faults
	if !errors.As(err, &faults) || len(faults) == 0 {
		return err
	}
	last := len(faults) - 1
	for _, f := range faults[:last] {
		s.say("gradeline: %v", f)
	}
	return faults[last]
}

// classesFleet stores the fleet of the catalogue, or prints it.
func (s *session) classesFleet(c *cli.Context) error {
	cat, err := s.openForChange(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if c.NArg() == 2 {
		ids, err := answer.FleetOf(c.Context, cat, c.Args().Get(1))
		if err != nil {
			return err
		}
		if err := cat.SetFleet(c.Context, c.String("by"), ids); err != nil {
			return err
		}
		s.stored = cat.Path()
	}
	a, err := answer.NewFleet(c.Context, cat)
	if err != nil {
		return err
	}
	return s.answer(c, a, catalog.Metric)
}
