package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plot"
	"gradeline/catalog/wording"
	"gradeline/cmd/commandline"
)

func (s *session) showCommand() *cli.Command {
	return &cli.Command{
		Name: "show", Usage: "one descent: its figures, profile and holds",
		ArgsUsage: "DESCENT",
		Flags: []cli.Flag{catalogFlag(), classFlag(),
			&cli.StringFlag{Name: "plot", Usage: "draw the profile to a .svg or .png `FILE`"},
			&cli.StringFlag{Name: "holding-plot", Usage: "draw the demand and the power that each gear holds to a .svg or .png `FILE`; needs --class"},
			&cli.StringFlag{Name: "heat-plot", Usage: "draw what the service brakes would reach to a .svg or .png `FILE`; needs --class"},
			classesFlag(), fleetFlag(),
			jsonFlag(), unitsFlag(), forceFlag()},
		Action: s.show,
	}
}

func (s *session) show(c *cli.Context) error {
	if err := commandline.CountArgs(c, 1, 1, "the id of one descent (gradeline list shows them)"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	cat, e, err := oneDescent(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if c.String("class") == "" {
		fleet, err := s.fleetOf(c, cat)
		if err != nil {
			return err
		}
		if len(fleet) > 0 {
			e.Holds = catalog.HoldsOf(e.Holds, fleet)
		}
	}
	hold := catalog.HoldFor(e.Holds, c.String("class"))
	if c.String("class") != "" && hold == nil {
		return usagef("%s has no answer for class %q; it has %s", e.Descent.ID, c.String("class"), commandline.Listed(wording.Classes([]catalog.Entry{e})))
	}
	a, view, err := answer.ShowDescent(c.Context, cat, &e, c.String("class"))
	if err != nil {
		return err
	}
	if err := s.plotTo(c, "plot", plot.Drawer(c.String("plot"), view, u, plot.ProfileSVG, plot.ProfilePNG)); err != nil {
		return err
	}
	if err := s.classPlots(c, &e, hold, u); err != nil {
		return err
	}
	return s.answer(c, a, u)
}

// plotTo writes the plot of a flag, if it is given; draw is nil where the file's ending is unknown.
func (s *session) plotTo(c *cli.Context, flag string, draw func(io.Writer) error) error {
	file := c.String(flag)
	switch {
	case file == "":
		return nil
	case draw == nil:
		return usagef("%s: a plot's file must end in .svg or .png", file)
	}
	return s.writeTo(c, file, draw)
}

// classPlots draws the plots of one weight class.
func (s *session) classPlots(c *cli.Context, e *catalog.Entry, h *catalog.Hold, u catalog.Units) error {
	if c.String("holding-plot") == "" && c.String("heat-plot") == "" {
		return nil
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	for _, flag := range []string{"holding-plot", "heat-plot"} {
		if err := notAnInput(c, c.String(flag)); err != nil {
			return err
		}
	}
	if err := s.plotTo(c, "holding-plot", plot.Drawer(c.String("holding-plot"), plot.HoldingViewFor(e, &class), u, plot.HoldingSVG, plot.HoldingPNG)); err != nil {
		return err
	}
	return s.plotTo(c, "heat-plot", plot.Drawer(c.String("heat-plot"), plot.HeatViewFor(e, h), u, plot.HeatSVG, plot.HeatPNG))
}
