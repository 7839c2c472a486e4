package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plot"
	"gradeline/catalog/survey"
	"gradeline/catalog/wholefile"
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
	view, err := answer.ViewOf(c.Context, cat, &e, hold)
	if err != nil {
		return err
	}
	if file := c.String("plot"); file != "" {
		if err := notAnInput(c, file); err != nil {
			return err
		}
		if err := s.plotTo(file, c.Bool("force"), view, u); err != nil {
			return err
		}
	}
	if err := s.classPlots(c, &e, hold, u); err != nil {
		return err
	}
	a := answer.NewOneDescent(&e, &view, c.String("class"))
	if a.Drives, err = survey.SayDrives(c.Context, cat, &e); err != nil {
		return err
	}
	return s.answer(c, a, u)
}

// plotTo draws a profile view to a file whose ending names the format.
func (s *session) plotTo(file string, force bool, view plot.ProfileView, u catalog.Units) error {
	return s.drawTo(file, force, func(w io.Writer) error { return plot.ProfileSVG(w, view, u) },
		func(w io.Writer) error { return plot.ProfilePNG(w, view, u) })
}

// drawTo writes a plot as SVG or PNG, by the file's ending.
func (s *session) drawTo(file string, force bool, svg, png func(io.Writer) error) error {
	draw := svg
	switch {
	case strings.HasSuffix(strings.ToLower(file), ".png"):
		draw = png
	case !strings.HasSuffix(strings.ToLower(file), ".svg"):
		return usagef("%s: a plot's file must end in .svg or .png", file)
	}
	if err := wholefile.WriteFile(file, force, draw); err != nil {
		return err
	}
	s.say("wrote %s", file)
	return nil
}

// classPlots draws the plots of one weight class.
func (s *session) classPlots(c *cli.Context, e *catalog.Entry, h *catalog.Hold, u catalog.Units) error {
	holdingFile, heatFile := c.String("holding-plot"), c.String("heat-plot")
	if holdingFile == "" && heatFile == "" {
		return nil
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	for _, file := range []string{holdingFile, heatFile} {
		if file != "" {
			if err := notAnInput(c, file); err != nil {
				return err
			}
		}
	}
	if holdingFile != "" {
		v := plot.HoldingViewFor(e, &class)
		if err := s.drawTo(holdingFile, c.Bool("force"), func(w io.Writer) error { return plot.HoldingSVG(w, v, u) },
			func(w io.Writer) error { return plot.HoldingPNG(w, v, u) }); err != nil {
			return err
		}
	}
	if heatFile != "" {
		v := plot.HeatViewFor(e, h)
		return s.drawTo(heatFile, c.Bool("force"), func(w io.Writer) error { return plot.HeatSVG(w, v, u) },
			func(w io.Writer) error { return plot.HeatPNG(w, v, u) })
	}
	return nil
}
