package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

func (s *session) classesCommand() *cli.Command {
	return &cli.Command{
		Name: "classes", Usage: "weight classes and their trucks: list, check a file, or print a template",
		ArgsUsage: "list | check FILE | template",
		Flags:     []cli.Flag{classesFlag(), jsonFlag(), unitsFlag()},
		Action:    s.classes,
	}
}

func (s *session) classes(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 2, "one of: list, check FILE, template"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	what := c.Args().First()
	if what != "check" && c.NArg() > 1 {
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
		classes, err := loadClasses(c) // which explains every fault of the file
		if err != nil {
			return err
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
	}
	return usagef("classes has no %q%s", what, commandline.DidYouMean(what, []string{"list", "check", "template"}))
}
