package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/holding"
	"gradeline/cmd/commandline"
)

func (s *session) holdCommand() *cli.Command {
	return &cli.Command{
		Name: "hold", Usage: "advice for one plain grade, no catalogue needed",
		Flags: append([]cli.Flag{
			&cli.StringFlag{Name: "grade", Usage: "downgrade in `PERCENT`, as in 8%"},
			&cli.StringFlag{Name: "length", Usage: "`LENGTH` of the grade with its unit, as in 6mi or 9.6km"},
			classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit, as in 102500lb or 46.5t; default the class's upper end"},
			&cli.StringFlag{Name: "posted", Usage: "posted `SPEED`, as in 35mph"},
			&cli.StringFlag{Name: "radius", Usage: "`RADIUS` of the tightest curve, as in 300ft"},
			&cli.StringFlag{Name: "sight", Usage: "`DISTANCE` that the driver sees, as in 400ft"},
			&cli.StringFlag{Name: "altitude", Usage: "`ALTITUDE` of the hill, as in 7000ft or 0m; default 1500m"},
			&cli.StringFlag{Name: "charge", Usage: "highest charge of the battery at the crest in `PERCENT`, as in 70%; default the class's"},
			&cli.BoolFlag{Name: "stop-at-foot", Usage: "a stop or a town at the foot"},
			jsonFlag(), unitsFlag(),
		}, weatherFlags("of the hour as in 35C or 95F, or from the coldest to the hottest as in -10C..35C")...),
		Action: s.hold,
	}
}

func (s *session) hold(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	q := commandline.Quantities{Context: c}
	gradePct := q.Needed("grade", catalog.DowngradePct, "8%")
	lengthM := q.Needed("length", catalog.LengthM, "6mi")
	massKg, _ := q.Given("mass", catalog.MassKg)
	postedMPS, isPosted := q.Given("posted", catalog.SpeedMPS)
	sightM, _ := q.Given("sight", catalog.LengthM)
	radiusM, isCurved := q.Given("radius", catalog.LengthM)
	altitudeM, isHigh := q.Given("altitude", catalog.AltitudeM)
	chargePct, isCharged := q.Given("charge", catalog.ChargePct)
	if q.Err != nil {
		return q.Err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	if !c.IsSet("units") { // else those of the class's country
		u = class.Units
	}
	hill := holding.PlainHill(gradePct, lengthM)
	if isPosted {
		hill = holding.WithPosted(hill, postedMPS)
	}
	if isCurved {
		hill = holding.WithCurve(hill, radiusM)
	}
	o := holding.Options{MassKg: massKg, StopAtFoot: c.Bool("stop-at-foot"), SightM: sightM}
	if isHigh {
		o.AltitudeM = &altitudeM
	}
	if o.Weather, err = weather(c, true); err != nil {
		return err
	}
	if o.Weather == nil {
		o.Weather = holding.UsualWeather()
	}
	if c.IsSet("tailwind") { // no default
		o.TailwindMPS = &o.Weather.TailwindMPS
	}
	if isCharged {
		o.ChargePct = &chargePct
	}
	h, err := holding.Advise(hill, class, o)
	if err != nil {
		return err
	}
	return s.answer(c, answer.NewPlainGrade(gradePct, lengthM, class.Name, h), u)
}
