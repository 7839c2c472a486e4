package main

import (
	"io"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/plansheet"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/cmd/commandline"
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

func rulesFlag() cli.Flag {
	return &cli.StringFlag{Name: "rules", Value: "us-2023", Usage: "rule set `ID` (us-2023, uk-2018, uk-2013, de-stvo, vienna-1968, haul-road) or a TOML file of your own"}
}

func approachFlag() cli.Flag {
	return &cli.StringFlag{Name: "approach", Usage: "85th percentile or posted `SPEED` before the crest, as in 55mph"}
}

// signPlan reads the options that apply to every descent, without the audit.
func signPlan(c *cli.Context) (*answer.SignPlan, error) {
	p := &answer.SignPlan{Choices: map[string]string{}, Panel: c.StringSlice("panel-class")}
	var err error
	if p.Rules, err = signs.OpenRuleSet(c.String("rules")); err != nil {
		return nil, err
	}
	if p.ApproachMPS, _, err = commandline.Quantity(c, "approach", catalog.SpeedMPS); err != nil {
		return nil, err
	}
	if err := postOptions(c, &p.Posts); err != nil {
		return nil, err
	}
	for _, x := range c.StringSlice("choice") {
		name, option, ok := strings.Cut(x, "=")
		if !ok {
			return nil, usagef("--choice %q: write NAME=OPTION", x)
		}
		p.Choices[name] = option
	}
	return p, nil
}

// postOptions reads the options of the posts.
func postOptions(c *cli.Context, o *signs.PostOptions) error {
	o.Road = c.String("road")
	for name, to := range map[string]**float64{"edge": &o.EdgeM, "offset": &o.OffsetM} {
		v, isGiven, err := commandline.Quantity(c, name, catalog.LengthM)
		if err != nil {
			return err
		}
		if isGiven {
			*to = &v
		}
	}
	for _, x := range c.StringSlice("milepost") {
		m, err := signs.ParseMilepost(x)
		if err != nil {
			return usageError("--milepost " + err.Error())
		}
		o.Mileposts = append(o.Mileposts, m)
	}
	return nil
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

// readStanding adds the existing signs to the plan where an audit is wanted.
func (s *session) readStanding(c *cli.Context, plan *answer.SignPlan) error {
	file := c.String("standing")
	if file == "" {
		return nil
	}
	in, err := s.openInput(file, "name a GeoJSON file of signs")
	if err != nil {
		return err
	}
	defer in.Close()
	plan.IsAudit, plan.StandingFile = true, file
	plan.Standing, plan.Unread, err = signs.ParseStanding(file, in)
	return err
}

// namedOrChosen returns the descents named as arguments, or all that match the filter.
func namedOrChosen(c *cli.Context) (*store.Catalog, []catalog.Entry, error) {
	if c.NArg() == 0 {
		return chosen(c)
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, nil, err
	}
	es, err := answer.Named(c.Context, cat, c.Args().Slice())
	if err != nil {
		cat.Close()
	}
	return cat, es, err
}

// writeSigns prints the schedules as JSON or text, or writes CSV or XLSX.
func (s *session) writeSigns(c *cli.Context, a *answer.Signs, u catalog.Units) error {
	out := strings.ToLower(c.String("o"))
	switch {
	case c.Bool("json"):
	case strings.HasSuffix(out, ".xlsx"):
		return s.toOutput(c, func(w io.Writer) error { return a.WriteXLSX(w, u) })
	case strings.HasSuffix(out, ".csv"):
		return s.toOutput(c, func(w io.Writer) error { return a.WriteCSV(w, u) })
	case strings.HasSuffix(out, ".geojson"):
		return s.toOutput(c, a.WriteOverlay)
	case out != "" && out != "-":
		return usagef("-o %s: the file must end in .csv, .xlsx or .geojson (one point a post)", c.String("o"))
	}
	return s.answer(c, a, u)
}
