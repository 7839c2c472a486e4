package main

import (
	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/signs"
	"gradeline/cmd/commandline"
)

func rulesFlag() cli.Flag {
	return &cli.StringFlag{Name: "rules", Value: "us-2023", Usage: "rule set `ID` (us-2023, uk-2018, uk-2013, de-stvo, vienna-1968, haul-road) or a TOML file of your own"}
}

func approachFlag() cli.Flag {
	return &cli.StringFlag{Name: "approach", Usage: "85th percentile or posted `SPEED` before the crest, as in 55mph"}
}

// signPlan reads the options that apply to every descent, without the audit.
func signPlan(c *cli.Context) (*answer.SignPlan, error) {
	p := &answer.SignPlan{Panel: c.StringSlice("panel-class")}
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
	if p.Choices, err = signs.ParseChoices(c.StringSlice("choice")); err != nil {
		return nil, usagef("--choice %v", err)
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
	return plan.ReadStanding(file, in)
}
