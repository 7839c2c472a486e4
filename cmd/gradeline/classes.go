package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
)

func (s *session) classesCommand() *cli.Command {
	return &cli.Command{
		Name: "classes", Usage: "weight classes and their trucks: list, check a file, or print a template",
		ArgsUsage: "list | check FILE | template",
		Flags:     []cli.Flag{classesFlag(), jsonFlag(), unitsFlag()},
		Action:    s.classes,
	}
}

type classesAnswer struct {
	Schema  string              `json:"schema"`
	Classes []vehicle.ClassView `json:"classes"`
}

func (s *session) classes(c *cli.Context) error {
	if err := argCount(c, 1, 2, "one of: list, check FILE, template"); err != nil {
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
		_, err := fmt.Fprint(s.out, vehicle.Template())
		return err
	case "check":
		if c.NArg() != 2 {
			return usagef("classes check needs the TOML file to check")
		}
		if err := c.Set("classes", c.Args().Get(1)); err != nil {
			return err
		}
		return s.checkClasses(c, u)
	case "list":
		return s.listClasses(c, u)
	}
	return usagef("classes has no %q%s", what, didYouMean(what, []string{"list", "check", "template"}))
}

func (s *session) listClasses(c *cli.Context, u catalog.Units) error {
	classes, err := loadClasses(c)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		a := classesAnswer{Schema: catalog.Schema, Classes: []vehicle.ClassView{}}
		for _, k := range classes {
			a.Classes = append(a.Classes, k.View())
		}
		return s.printJSON(a)
	}
	t := table.Table{Title: "Weight classes", Header: []string{"id", "truck", "from", "advice is for", "gears", "retarders"}}
	for _, k := range classes {
		v := k.View()
		kinds := ""
		for i, r := range v.Retarders {
			if i > 0 {
				kinds += " + "
			}
			kinds += r.Kind
		}
		t.Rows = append(t.Rows, []any{k.ID, k.Name, u.Mass(k.MassMinKg), u.Mass(k.MassMaxKg), len(v.GearRatios), kinds})
	}
	t.Notes = []string{"Generic trucks: replace them by your own (gradeline classes template)."}
	return table.WriteText(s.out, t)
}
