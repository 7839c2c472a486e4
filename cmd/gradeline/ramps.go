package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
	"gradeline/cmd/commandline"
)

func (s *session) rampsCommand() *cli.Command {
	return &cli.Command{
		Name: "ramps", Usage: "how fast a runaway would be at each place, where an escape ramp would still help and how long it must be",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` of the runaway, as in 63.5t; default 80,000 lb"},
			&cli.StringFlag{Name: "speed", Value: "25mph", Usage: "`SPEED` at the crest when the retarder is lost"},
			&cli.StringFlag{Name: "lead", Value: "200m", Usage: "`DISTANCE` of a ramp before the hazard"},
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
		r, err := signs.ParseRamp(text)
		if err != nil {
			return usageError("--rate " + err.Error())
		}
		existing = append(existing, r)
	}
	cat, err := openCatalog(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.RampsOf(c.Context, cat, c.Args().First(), in, answer.RampOptions{LeadM: leadM, Existing: existing})
	if err != nil {
		return err
	}
	return s.answer(c, a, u)
}
