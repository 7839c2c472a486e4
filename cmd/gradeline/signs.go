package main

import (
	"io"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plansheet"
)

func (s *session) signsCommand() *cli.Command {
	return &cli.Command{
		Name: "signs", Usage: "signs that descents warrant, by edition; audit of the existing signs",
		ArgsUsage: "[DESCENT...] | template | check FILE",
		Flags: append(filterFlags(), outFlag(), forceFlag(), jsonFlag(), unitsFlag(),
			rulesFlag(),
			approachFlag(),
			&cli.StringSliceFlag{Name: "choice", Usage: "`NAME=OPTION` for a choice that the edition leaves open; may be given several times"},
			&cli.StringSliceFlag{Name: "panel-class", Usage: "weight class `ID` on the weight-and-speed panel, at most five; default those of the rule set's country"},
			&cli.StringFlag{Name: "standing", Usage: "GeoJSON `FILE` of the existing signs, to audit"},
			&cli.StringFlag{Name: "strip", Usage: "draw the plan sheets of one descent to a .pdf, .svg or .dxf `FILE`"},
			&cli.StringFlag{Name: "road", Usage: "kind of road `ID` that decides sizes and post offsets; default the first of the rule set"},
			&cli.StringFlag{Name: "edge", Usage: "`DISTANCE` from the road's line to the edge of the travelled way, as in 12ft"},
			&cli.StringFlag{Name: "offset", Usage: "`DISTANCE` from that edge to the posts"},
			&cli.StringSliceFlag{Name: "milepost", Usage: "`STATION=VALUE` of a milepost, as in 12.4mi=231.5; may be given several times"}),
		Action: s.signs,
	}
}

func (s *session) signs(c *cli.Context) error {
	switch c.Args().First() {
	case "template", "check":
		return s.signRuleFile(c)
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	plan, err := signPlan(c)
	if err != nil {
		return err
	}
	strip := c.String("strip")
	sheets, err := stripFormat(strip)
	if err != nil {
		return err
	}
	if err := s.readStanding(c, plan); err != nil {
		return err
	}
	cat, es, err := namedOrChosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if strip != "" && len(es) != 1 {
		return usagef("--strip draws one descent; name it")
	}
	if c.NArg() == 0 {
		if plan.SteepParts, err = partsChosen(c, cat); err != nil {
			return err
		}
	}
	a, err := answer.NewSigns(c.Context, cat, es, plan)
	if err != nil {
		return err
	}
	if strip != "" {
		if err := s.writeTo(c, strip, func(w io.Writer) error { return plansheet.Write(w, a.SheetSet(0, u), sheets) }); err != nil {
			return err
		}
	}
	if err := s.writeSigns(c, a, u); err != nil {
		return err
	}
	return s.sayGaps(a.Gaps())
}

// stripFormat is the format that the name of a strip's file asks for.
func stripFormat(name string) (plansheet.Format, error) {
	if name == "" {
		return "", nil
	}
	f, err := plansheet.FormatFromName(name)
	if err != nil {
		return f, usageError("--strip " + err.Error())
	}
	return f, nil
}

// writeSigns prints the schedules as JSON or text, or writes the file that -o names.
func (s *session) writeSigns(c *cli.Context, a *answer.Signs, u catalog.Units) error {
	out := c.String("o")
	if c.Bool("json") || out == "" || out == "-" {
		return s.answer(c, a, u)
	}
	write := a.FileWriter(out, u)
	if write == nil {
		return usagef("-o %s: the file must end in .csv, .xlsx or .geojson (one point a post)", out)
	}
	return s.toOutput(c, write)
}
