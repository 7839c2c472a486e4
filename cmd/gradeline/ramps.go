package main

import (
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
	"gradeline/routes"
)

func (s *session) rampsCommand() *cli.Command {
	return &cli.Command{
		Name: "ramps", Usage: "how fast a runaway would be at each place, where an escape ramp would still help and how long it must be",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` of the runaway, as in 63.5t; default 80,000 lb"},
			&cli.StringFlag{Name: "speed", Value: "25mph", Usage: "`SPEED` at the crest when the retarder is lost"},
			&cli.StringFlag{Name: "lead", Value: "200m", Usage: "how far before the hazard a ramp is placed, as a `DISTANCE`"},
			&cli.StringSliceFlag{Name: "rate", Usage: "rate an existing ramp: `STATION, MATERIAL, LENGTH, GRADE`; may be given several times"},
			jsonFlag(), unitsFlag()},
		Action: s.ramps,
	}
}

func (s *session) ramps(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "the id of one descent (gradeline list shows them)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	var in signs.RunawayInput
	if in.MassKg, _, err = commandline.Quantity(c, "mass", catalog.MassKg); err != nil {
		return err
	}
	if in.FromMPS, err = catalog.SpeedMPS(c.String("speed")); err != nil {
		return usageError("--speed " + err.Error())
	}
	leadM, err := catalog.LengthM(c.String("lead"))
	if err != nil {
		return usageError("--lead " + err.Error())
	}
	var existing []signs.Ramp
	for _, text := range c.StringSlice("rate") {
		r, err := rampFrom(text)
		if err != nil {
			return err
		}
		existing = append(existing, r)
	}
	e, stretch, sites, err := hillWithSites(c)
	if err != nil {
		return err
	}
	in.Descent, in.Profile = e.Descent, stretch
	a, err := answer.NewRamps(in, answer.RampOptions{LeadM: leadM, OnRecord: sites, Existing: existing})
	if err != nil {
		return err
	}
	return s.answer(c, a, u)
}

// rampFrom reads "11922m, pea gravel, 150m, 8%".
func rampFrom(text string) (signs.Ramp, error) {
	parts := strings.Split(text, ",")
	if len(parts) != 4 {
		return signs.Ramp{}, usagef("--rate %q: write STATION, MATERIAL, LENGTH, GRADE, as in 11922m, pea gravel, 150m, 8%%", text)
	}
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	stationM, err := catalog.LengthM(parts[0])
	if err != nil {
		return signs.Ramp{}, usageError("--rate station " + err.Error())
	}
	lengthM, err := catalog.LengthM(parts[2])
	if err != nil {
		return signs.Ramp{}, usageError("--rate length " + err.Error())
	}
	gradePct, err := catalog.DowngradePct(parts[3])
	if err != nil {
		return signs.Ramp{}, usageError("--rate grade " + err.Error())
	}
	if strings.HasPrefix(parts[3], "-") { // a ramp that falls
		gradePct = -gradePct
	}
	return signs.Ramp{Name: parts[1], StationM: stationM,
		Beds: []signs.RampBed{{Material: parts[1], LengthM: lengthM, GradePct: gradePct}}}, nil
}

// hillWithSites reads the descent that the argument names, its stored grade line and the sites that
// serve it. The catalogue is closed again.
func hillWithSites(c *cli.Context) (catalog.Entry, *routes.Profile, []catalog.Site, error) {
	cat, e, err := oneDescent(c)
	if err != nil {
		return e, nil, nil, err
	}
	defer cat.Close()
	line, err := cat.Profile(c.Context, e.Descent.ID)
	if err != nil {
		return e, nil, nil, err
	}
	dir := e.Descent.Direction
	sites, err := cat.Sites(c.Context, store.SiteFilter{Route: e.Descent.Route, Direction: &dir})
	return e, line, sites, err
}
