package main

import (
	"io"
	"path/filepath"
	"strings"

	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/ranking"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
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

// tripQuery reads the command line.
func (s *session) tripQuery(c *cli.Context, class vehicle.Class) (survey.TripQuery, []orb.Point, error) {
	var q survey.TripQuery
	var err error
	if q.Options, err = s.surveyOptions(c, []vehicle.Class{class}); err != nil {
		return q, nil, err
	}
	if q.Weather, err = weather(c, false); err != nil {
		return q, nil, err
	}
	if q.Prefer, err = ranking.ParsePrefer(c.String("prefer")); err != nil {
		return q, nil, usagef("--prefer %v", err)
	}
	if q.Alternatives = c.Int("alternatives"); q.Alternatives < 0 || q.Alternatives > 10 {
		return q, nil, usagef("--alternatives %d: use 0 to 10", q.Alternatives)
	}
	if q.MassKg, _, err = quantityOr(c, "mass", catalog.MassKg, q.MassKg); err != nil {
		return q, nil, err
	}
	if q.Others, err = loadClasses(c); err != nil {
		return q, nil, err
	}
	q.AllowUnknown, q.Vehicle = c.Bool("allow-unknown"), survey.VehicleOf(&class, q.MassKg)
	if c.IsSet("hazmat") {
		q.Vehicle.IsHazmat = c.Bool("hazmat")
	}
	for _, f := range []struct {
		name string
		read func(string) (float64, error)
		to   *float64
	}{{"height", catalog.LengthM, &q.Vehicle.HeightM}, {"truck-length", catalog.LengthM, &q.Vehicle.LengthM}, {"axle-load", catalog.MassKg, &q.Vehicle.AxleLoadKg}} {
		if *f.to, _, err = quantityOr(c, f.name, f.read, *f.to); err != nil {
			return q, nil, err
		}
	}
	places, err := placesOf(c)
	return q, places, err
}

// placesOf are the requested places, in the order of travel.
func placesOf(c *cli.Context) ([]orb.Point, error) {
	var out []orb.Point
	for _, text := range append(append([]string{c.String("from")}, c.StringSlice("via")...), c.String("to")) {
		p, err := catalog.ParsePoint(text)
		if err != nil {
			return nil, usagef("--from, --via and --to: %v", err)
		}
		out = append(out, p)
	}
	return out, nil
}

// quantityOr reads a flag with a quantity. Without the flag it returns otherwise.
func quantityOr(c *cli.Context, name string, read func(string) (float64, error), otherwise float64) (float64, bool, error) {
	v, ok, err := commandline.Quantity(c, name, read)
	if !ok && err == nil {
		v = otherwise
	}
	return v, ok, err
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
	if c.Bool("json") {
		err = answer.WriteJSON(s.out, a)
	} else {
		err = table.WriteText(s.out, answer.TripsTable(a, u))
	}
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
	switch strings.ToLower(filepath.Ext(file)) {
	case ".html", ".htm", ".pdf":
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
	if err == nil {
		a.Warnings = append(a.Warnings, surface.Warnings()...)
	}
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
