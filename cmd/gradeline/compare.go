package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/ranking"
	"gradeline/catalog/survey"
	"gradeline/cmd/commandline"
	"gradeline/routes/network"
)

func (s *session) compareCommand() *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "which of these routes can this truck take, each travelled from its first vertex to its last",
		ArgsUsage: "ROUTES...",
		Flags: append(append(terrainFlags(), weatherFlags(weatherOfADay)...), catalogFlag(),
			&cli.StringFlag{Name: "class", Usage: "weight class `ID`; several with commas, or all, for a fleet; gradeline classes list shows them"}, classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit; default the upper end of the class"},
			&cli.StringFlag{Name: "prefer", Value: "time", Usage: "order of routes with the same surfaces and margin: `BEST` by time, length or margin"},
			&cli.StringFlag{Name: "plot", Usage: "draw a map and the profiles to `FILE` (.svg, .png, or .html with the table)"},
			&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a route file that has several"},
			&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
			&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
			forceFlag(), jsonFlag(), unitsFlag()),
		Action: s.compare,
	}
}

// compareQuery reads the command line.
func compareQuery(c *cli.Context) (answer.CompareQuery, error) {
	var q answer.CompareQuery
	var err error
	if q.Classes, err = weightClasses(c); err != nil {
		return q, err
	}
	if q.Prefer, err = ranking.ParsePrefer(c.String("prefer")); err != nil {
		return q, commandline.Usagef("--prefer %v", err)
	}
	switch strings.ToLower(filepath.Ext(c.String("plot"))) {
	case "", ".svg", ".png", ".html", ".htm":
	default:
		return q, commandline.Usagef("--plot %s: the name must end in .svg, .png or .html", c.String("plot"))
	}
	if q.Weather, err = weather(c, false); err != nil {
		return q, err
	}
	q.MassKg, _, err = commandline.Quantity(c, "mass", catalog.MassKg)
	return q, err
}

func (s *session) compare(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, answer.MostCompared, "one to twenty routes"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	q, err := compareQuery(c)
	if err != nil {
		return err
	}
	var a *answer.Comparison
	if len(c.StringSlice("terrain")) > 0 {
		a, err = s.compareSurveyed(c, q)
	} else {
		a, err = compareStored(c, q)
	}
	if errors.Is(err, answer.ErrTooManyRoutes) {
		return usageError(err.Error())
	}
	if err == nil {
		err = s.answer(c, a, u)
	}
	if file := c.String("plot"); err == nil && file != "" {
		err = s.writeTo(c, file, func(w io.Writer) error { return a.Plot(w, file, u) })
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

// compareSurveyed surveys the route files for the classes, storing nothing.
func (s *session) compareSurveyed(c *cli.Context, q answer.CompareQuery) (*answer.Comparison, error) {
	o, err := s.surveyOptions(c, q.Classes)
	if err != nil {
		return nil, err
	}
	o.Weather = q.Weather
	surface, err := openTerrain(c)
	if err != nil {
		return nil, err
	}
	defer surface.Close()
	_, routeFiles := inputs(c)
	return answer.CompareSurveyed(c.Context, surface, survey.ReadRoads(routeFiles, network.Options{Options: s.roadOptions(c), AsDrawn: true}), o, q)
}

// compareStored compares routes of the catalogue.
func compareStored(c *cli.Context, q answer.CompareQuery) (*answer.Comparison, error) {
	for _, name := range c.Args().Slice() {
		if _, err := os.Stat(name); err == nil {
			return nil, commandline.Usagef("%s is a file; files of routes need --terrain with an elevation raster", name)
		}
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	return answer.CompareStored(c.Context, cat, q, c.Args().Slice())
}
