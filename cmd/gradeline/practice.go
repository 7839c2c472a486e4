package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/cmd/commandline"
)

func (s *session) practiceCommand() *cli.Command {
	return &cli.Command{
		Name: "practice", Usage: "practice grades for a training truck, easiest first, and why",
		Flags: append(filterFlags(),
			nearFlag(), withinFlag(),
			marginFlag(),
			jsonFlag(), unitsFlag()),
		Action: s.practice,
	}
}

func nearFlag() cli.Flag {
	return &cli.StringFlag{Name: "near", Usage: "only practice grades near this `PLACE`: LON,LAT in degrees, or the name of a site, road or descent of the catalogue"}
}

func withinFlag() cli.Flag {
	return &cli.StringFlag{Name: "within", Value: "50km", Usage: "how near, as a straight `DISTANCE`"}
}

func marginFlag() cli.Flag {
	return &cli.StringFlag{Name: "margin", Value: "20%", Usage: "how much of the retarder must stay unused on a practice grade, in `PERCENT`"}
}

func (s *session) practice(c *cli.Context) error {
	if err := commandline.CountArgs(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	o, err := practiceOptions(c)
	if err != nil {
		return err
	}
	cat, es, err := chosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	a, err := answer.NewPractice(c.Context, cat, es, o)
	if err != nil {
		return err
	}
	return s.answer(c, a, u)
}

// practiceOptions reads which practice grades are wanted.
func practiceOptions(c *cli.Context) (answer.PracticeOptions, error) {
	o := answer.PracticeOptions{Class: c.String("class"), Near: c.String("near")}
	if o.Class == "" {
		return o, usagef("practice needs --class with the training truck; gradeline classes list shows them")
	}
	var err error
	if o.MarginPct, err = catalog.DowngradePct(c.String("margin")); err != nil {
		return o, usagef("--margin: give per cent, as in 20%%")
	}
	o.WithinM, err = commandline.Preset(c, "within", catalog.LengthM)
	return o, err
}
