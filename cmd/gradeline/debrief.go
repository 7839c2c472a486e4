package main

import (
	"math"
	"time"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plot"
	"gradeline/cmd/commandline"
	"gradeline/routes/vector"
)

func (s *session) debriefCommand() *cli.Command {
	return &cli.Command{
		Name: "debrief", Usage: "a recorded drive down a descent, compared with the advice: speeds, the crest rule, service brakes",
		ArgsUsage: "DESCENT RECORDING...",
		Flags: []cli.Flag{catalogFlag(), classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` of that drive with its unit; default the upper end of the class, which the advice is for"},
			&cli.IntFlag{Name: "pass", Usage: "which run down the hill, `N` from 1; default the one that covers most of it"},
			&cli.StringFlag{Name: "plot", Usage: "draw driven against advised speed over the profile to a .svg or .png `FILE`"},
			&cli.StringFlag{Name: "progress", Usage: "also keep the result in the office's `FILE` of trainees, made where there is none; see gradeline progress"},
			&cli.StringFlag{Name: "trainee", Usage: "`NAME` of the driver in that file"},
			jsonFlag(), unitsFlag(), forceFlag()},
		Action: s.debrief,
	}
}

func (s *session) debrief(c *cli.Context) error {
	if err := commandline.CountArgs(c, 2, 1+mostDrives, "the id of one descent and a recording (GPX track with times, FIT, NMEA log, or CSV); several recordings are compared"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	massKg, _, err := commandline.Quantity(c, "mass", catalog.MassKg)
	if err != nil {
		return err
	}
	if err := debriefFlags(c); err != nil {
		return err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	recs, err := vector.ReadRecordings(c.Args().Tail(), s.in)
	if err != nil {
		return err
	}
	e, stretch, sites, err := oneHill(c)
	if err != nil {
		return err
	}
	a, list, err := answer.NewDebriefs(answer.DebriefInput{Entry: &e, Profile: stretch, Class: &class, MassKg: massKg, Sites: sites, Pass: c.Int("pass")}, c.Args().Tail(), recs)
	if err != nil {
		return err
	}
	v := a.View(plot.ViewFromProfile(stretch, &e, catalog.HoldFor(e.Holds, class.ID), math.Inf(1)), u)
	if err := s.plotTo(c, "plot", plot.Drawer(c.String("plot"), v, u, plot.DriveSVG, plot.DrivePNG)); err != nil {
		return err
	}
	if err := s.answer(c, a, u); err != nil {
		return err
	}
	if err := keepProgress(c, list, class.Units); err != nil {
		return err
	}
	return s.sayGaps(a.Gaps())
}

// keepProgress adds the drives to the office's file of trainees where --progress asks for it.
func keepProgress(c *cli.Context, list []*answer.Debrief, u catalog.Units) error {
	file := c.String("progress")
	if file == "" {
		return nil
	}
	for _, one := range list {
		if err := one.Keep(file, c.String("trainee"), time.Now(), u); err != nil {
			return err
		}
	}
	return nil
}

// debriefFlags checks the flags that take no unit.
func debriefFlags(c *cli.Context) error {
	switch {
	case c.IsSet("progress") != c.IsSet("trainee"):
		return usagef("--progress FILE and --trainee NAME belong together")
	case c.IsSet("pass") && c.Int("pass") < 1:
		return usagef("--pass %d: use a number from 1 up", c.Int("pass"))
	case c.IsSet("pass") && c.NArg() > 2:
		return usagef("--pass is for one recording")
	}
	return nil
}

// mostDrives is the number of recordings that one table compares.
const mostDrives = 50
