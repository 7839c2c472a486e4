package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/cmd/commandline"
)

func (s *session) practiceCommand() *cli.Command {
	return &cli.Command{
		Name: "practice", Usage: "practice grades for a training truck, easiest first, and why",
		Flags: append(filterFlags(),
			nearFlag(), withinFlag(),
			marginFlag(),
			&cli.IntFlag{Name: "days", Usage: "spread the grades over this many `DAYS`, each beginning with the hardest of the day before"},
			&cli.StringSliceFlag{Name: "traffic", Usage: "`DESCENT=VEHICLES` a day, where they are known; may be repeated"},
			&cli.StringFlag{Name: "o", Usage: "write a plan for the trainee, with a sheet for each step, to `FILE`: .pdf, .html or .xlsx"},
			paperFlag(), forceFlag(),
			jsonFlag(), unitsFlag()),
		Action: s.practice,
	}
}

func nearFlag() cli.Flag {
	return &cli.StringFlag{Name: "near", Usage: "only practice grades near this `PLACE`: LON,LAT in degrees, or the name of a site, road or descent of the catalogue"}
}

func withinFlag() cli.Flag {
	return &cli.StringFlag{Name: "within", Value: "50km", Usage: "greatest straight `DISTANCE` from that place"}
}

func marginFlag() cli.Flag {
	return &cli.StringFlag{Name: "margin", Value: "20%", Usage: "share of the retarder that must stay unused on a practice grade, in `PERCENT`"}
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
	paper, err := paper(c)
	if err != nil {
		return err
	}
	if err := knownEnding(c, ".pdf", ".html", ".xlsx"); err != nil {
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
	if file := c.String("o"); file != "" {
		if o.Figures != nil && !c.IsSet("units") {
			u = o.Figures.Units
		}
		return s.toOutput(c, func(w io.Writer) error { return a.Write(w, file, paper, u) })
	}
	return s.answer(c, a, u)
}

// practiceOptions reads the options for practice grades.
func practiceOptions(c *cli.Context) (answer.PracticeOptions, error) {
	o := answer.PracticeOptions{Class: c.String("class"), Near: c.String("near"), Days: c.Int("days"), TrafficPerDay: map[string]float64{}}
	if o.Class == "" {
		return o, usagef("practice needs --class with the training truck; gradeline classes list shows them")
	}
	if o.Days < 0 || o.Days > 100 {
		return o, usagef("--days %d: use 1 to 100 days", o.Days)
	}
	for _, given := range c.StringSlice("traffic") {
		id, perDay, err := ranking.ParseTraffic(given)
		if err != nil {
			return o, usageError("--traffic " + err.Error())
		}
		o.TrafficPerDay[id] = perDay
	}
	classes, err := loadClasses(c)
	if err != nil {
		return o, err
	}
	o.Figures, _ = vehicle.ClassByID(classes, o.Class) // a class of the catalogue alone has no lower gear tried
	if o.MarginPct, err = catalog.DowngradePct(c.String("margin")); err != nil {
		return o, usagef("--margin: write per cent, as in 20%%")
	}
	o.WithinM, err = commandline.Preset(c, "within", catalog.LengthM)
	return o, err
}
