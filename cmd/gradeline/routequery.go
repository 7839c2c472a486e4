package main

import (
	"github.com/paulmach/orb"
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/survey"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

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
	if q.Alternatives = c.Int("alternatives"); q.Alternatives < 0 || q.Alternatives > survey.MostAlternatives {
		return q, nil, usagef("--alternatives %d: use 0 to %d", q.Alternatives, survey.MostAlternatives)
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
