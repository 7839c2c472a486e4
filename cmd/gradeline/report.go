package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/serve"
	"gradeline/catalog/whatif"
	"gradeline/cmd/commandline"
)

func (s *session) reportCommand() *cli.Command {
	return &cli.Command{
		Name: "report", Usage: "one self-contained HTML page: map, profiles, tables; opens offline",
		Flags: append(append(filterFlags(), terrainFlags()...), fleetFlag(), outFlag(), forceFlag(), unitsFlag(),
			&cli.BoolFlag{Name: "signs", Usage: "with the plan sheets of the signs that each descent warrants"}, rulesFlag(), approachFlag(),
			&cli.BoolFlag{Name: "what-if", Usage: "with the program that tries other trucks, masses and weather offline; adds some 2 MB"},
			&cli.StringFlag{Name: "title", Value: "Mountain descents", Usage: "`TITLE` of the page"}),
		Action: s.report,
	}
}

func (s *session) report(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	cat, es, err := s.chosenForFleet(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	o := answer.ReportOptions{Title: c.String("title"), Units: u, Class: c.String("class")}
	if c.Bool("signs") {
		if o.Signs, err = signPlan(c); err != nil {
			return err
		}
	}
	if o.Classes, err = loadClasses(c); err != nil {
		return err
	}
	if c.Bool("what-if") {
		if o.Program, err = serve.Program(); err != nil {
			return err
		}
		if o.Program == nil || !whatif.AreBuiltIn(o.Classes) {
			return usagef("--what-if needs a program that was built by make build, and the built-in classes")
		}
	}
	if len(c.StringSlice("terrain")) > 0 && len(es) > 0 {
		surface, err := openTerrain(c)
		if err != nil {
			return err
		}
		defer surface.Close()
		o.Terrain = surface
	}
	if o.Filter, err = filter(c); err != nil {
		return err
	}
	r, err := answer.ReportFor(c.Context, cat, es, o)
	if err != nil {
		return err
	}
	return s.toOutput(c, func(w io.Writer) error { return page.ReportHTML(w, r) })
}
