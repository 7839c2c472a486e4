package main

import (
	"io"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"gradeline/catalog/answer"
	"gradeline/catalog/page"
	"gradeline/catalog/survey"
)

func (s *session) routeCommand() *cli.Command {
	return &cli.Command{
		Name: "route", Usage: "a way through a network that this truck can hold on its retarder",
		ArgsUsage: "[NETWORK...]",
		Flags: append(append(append(append(terrainFlags(), networkFlags()...), tripPageFlags()...), weatherFlags(weatherOfADay)...), catalogFlag(), classFlag(), classesFlag(),
			&cli.StringFlag{Name: "from", Usage: "start, `LON,LAT` in degrees"},
			&cli.StringFlag{Name: "to", Usage: "end, `LON,LAT` in degrees"},
			&cli.StringSliceFlag{Name: "via", Usage: "a place to pass, `LON,LAT`; may be given several times, in order"},
			&cli.StringFlag{Name: "prefer", Value: "time", Usage: "order of the ways, `BEST` by time, length or margin (in steps of ten points)"},
			&cli.IntFlag{Name: "alternatives", Usage: "up to `N` alternative ways that clearly differ"},
			&cli.BoolFlag{Name: "allow-unknown", Usage: "allow ways with stretches of unknown ground"},
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit; default the class's upper end"},
			&cli.StringFlag{Name: "height", Usage: "`HEIGHT` of the truck, as in 4m; default the class's; where neither says it, roads with a stated height limit are left out"},
			&cli.StringFlag{Name: "truck-length", Usage: "`LENGTH` of the truck, as in 18.75m; default the class's"},
			&cli.StringFlag{Name: "axle-load", Usage: "heaviest axle, a `MASS`; default the class's"},
			&cli.BoolFlag{Name: "hazmat", Usage: "the load is hazardous; default the class's"},
			&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a file that has several"},
			&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
			&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
			outFlag(), forceFlag(), jsonFlag(), unitsFlag()),
		Action: s.route,
	}
}

func (s *session) route(c *cli.Context) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	if err := checkTripFile(c.String("o")); err != nil {
		return err
	}
	q, places, err := s.tripQuery(c, class)
	if err != nil {
		return err
	}
	a, err := s.findTrips(c, places, q)
	if err != nil {
		return err
	}
	err = s.answer(c, a, u)
	if err == nil && c.String("o") != "" && len(a.Trips) > 0 {
		err = s.writeTo(c, c.String("o"), func(w io.Writer) error { return answer.TripsFile(w, c.String("o"), a) })
	}
	if err == nil {
		err = s.writeTripPage(c, a, &class, u)
	}
	if err != nil {
		return err
	}
	return s.tellTrips(a)
}

// checkTripFile refuses the name of a page for the map file of -o.
func checkTripFile(file string) error {
	if page.IsPageName(file) {
		return usagef("-o %s: -o writes a map file, .gpx or .geojson; the driver's page is written by --page %s", file, file)
	}
	return nil
}

// findTrips searches the named road files over the terrain, or without road files the network of
// the catalogue.
func (s *session) findTrips(c *cli.Context, places []orb.Point, q survey.TripQuery) (*answer.TripsAnswer, error) {
	paths, files := inputs(c)
	if len(files) == 0 {
		if len(paths) > 0 {
			return nil, usagef("route needs a road network with --terrain: an OpenStreetMap extract, or files of lines; without both it uses the network of the catalogue")
		}
		cat, err := openCatalog(c)
		if err != nil {
			return nil, err
		}
		defer cat.Close()
		return answer.FindTripsIn(c.Context, cat, places, q)
	}
	lines, err := networkOptions(c, s.roadOptions(c))
	if err != nil {
		return nil, err
	}
	surface, err := openTerrain(c)
	if err != nil {
		return nil, err
	}
	defer surface.Close()
	a, err := answer.FindTrips(c.Context, surface, survey.NetworkFiles{Files: files, Lines: lines}, places, q)
	s.newProgress("").end() // end the progress line of reading
	return a, err
}

// tellTrips prints warnings and gaps.
func (s *session) tellTrips(a *answer.TripsAnswer) error {
	said, isWhole := a.Said()
	for _, words := range said {
		s.say("%s", words)
	}
	if !isWhole {
		return errGaps
	}
	return nil
}
