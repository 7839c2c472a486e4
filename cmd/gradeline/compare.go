package main

import (
	"errors"
	"os"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
	"gradeline/routes/network"
)

func (s *session) compareCommand() *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "which of these routes can this truck take, each travelled from its first vertex to its last",
		ArgsUsage: "ROUTES...",
		Flags: append(terrainFlags(), catalogFlag(), classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit; default the class's upper end; needs --terrain"},
			&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a route file that has several"},
			&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
			&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
			jsonFlag(), unitsFlag()),
		Action: s.compare,
	}
}

func (s *session) compare(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, answer.MostCompared, "one to twenty routes"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	massKg, hasMass, err := commandline.Quantity(c, "mass", catalog.MassKg)
	if err != nil {
		return err
	}
	var a *answer.Comparison
	switch {
	case len(c.StringSlice("terrain")) > 0:
		a, err = s.compareSurveyed(c, class, massKg, u)
	case hasMass:
		return usagef("--mass needs --terrain: the catalogue keeps advice for the class's upper end")
	default:
		a, err = compareStored(c, class)
	}
	if errors.Is(err, answer.ErrTooManyRoutes) {
		return usageError(err.Error())
	}
	if err == nil {
		err = s.answer(c, a, u)
	}
	if err != nil {
		return err
	}
	for _, w := range a.Warnings {
		s.say("warning: %s", w)
	}
	if err := s.sayGaps(a.Gaps()); err != nil || a.IsComplete() {
		return err
	}
	return errGaps
}

// compareSurveyed surveys the route files for one class, storing nothing.
func (s *session) compareSurveyed(c *cli.Context, class vehicle.Class, massKg float64, u catalog.Units) (*answer.Comparison, error) {
	o, err := s.surveyOptions(c, []vehicle.Class{class})
	if err != nil {
		return nil, err
	}
	o.MassKg = massKg
	surface, err := openTerrain(c)
	if err != nil {
		return nil, err
	}
	defer surface.Close()
	if c.Bool("json") {
		u = catalog.Metric
	}
	_, routeFiles := inputs(c)
	return answer.CompareSurveyed(c.Context, surface, survey.ReadRoads(routeFiles, network.Options{Options: s.roadOptions(c), AsDrawn: true}), o, u)
}

// compareStored takes routes of the catalogue.
func compareStored(c *cli.Context, class vehicle.Class) (*answer.Comparison, error) {
	for _, name := range c.Args().Slice() {
		if _, err := os.Stat(name); err == nil {
			return nil, usagef("%s is a file; files of routes need --terrain with an elevation raster", name)
		}
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return answer.CompareStored(c.Context, cat, &class, c.Args().Slice())
}
