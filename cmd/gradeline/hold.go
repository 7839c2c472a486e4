package main

import (
	"fmt"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
)

func (s *session) holdCommand() *cli.Command {
	return &cli.Command{
		Name: "hold", Usage: "advice for one plain grade, no catalogue needed",
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "grade", Usage: "downgrade in `PERCENT`, as in 8%"},
			&cli.StringFlag{Name: "length", Usage: "`LENGTH` of the grade with its unit, as in 6mi or 9.6km"},
			classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit, as in 102500lb or 46.5t; default the class's upper end"},
			&cli.StringFlag{Name: "posted", Usage: "posted `SPEED`, as in 35mph"},
			&cli.StringFlag{Name: "radius", Usage: "`RADIUS` of the tightest curve, as in 300ft"},
			&cli.StringFlag{Name: "sight", Usage: "`DISTANCE` that the driver sees, as in 400ft"},
			&cli.StringFlag{Name: "altitude", Usage: "`ALTITUDE` of the hill, as in 7000ft; default 1500m"},
			&cli.BoolFlag{Name: "stop-at-foot", Usage: "a stop or a town at the foot"},
			jsonFlag(), unitsFlag(),
		},
		Action: s.hold,
	}
}

// holdAnswer is what hold --json prints.
type holdAnswer struct {
	Schema   string       `json:"schema"`
	GradePct float64      `json:"downgrade_pct"`
	LengthM  float64      `json:"length_m"`
	Hold     catalog.Hold `json:"hold"`
	Cautions []string     `json:"cautions"`
}

func (s *session) hold(c *cli.Context) error {
	if err := argCount(c, 0, 0, "no arguments"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	gradePct, ok, err := quantityFlag(c, "grade", catalog.DowngradePct)
	if err == nil && !ok {
		err = usagef("hold needs --grade, as in --grade 8%%")
	}
	if err != nil {
		return err
	}
	lengthM, ok, err := quantityFlag(c, "length", catalog.LengthM)
	if err == nil && !ok {
		err = usagef("hold needs --length, as in --length 6mi")
	}
	if err != nil {
		return err
	}
	massKg, _, err := quantityFlag(c, "mass", catalog.MassKg)
	if err != nil {
		return err
	}
	postedMPS, posted, err := quantityFlag(c, "posted", catalog.SpeedMPS)
	if err != nil {
		return err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	hill := holding.PlainHill(gradePct, lengthM)
	if posted {
		hill = holding.WithPosted(hill, postedMPS)
	}
	o := holding.Options{MassKg: massKg, Units: u, StopAtFoot: c.Bool("stop-at-foot")}
	if o.SightM, _, err = quantityFlag(c, "sight", catalog.LengthM); err != nil {
		return err
	}
	radiusM, curved, err := quantityFlag(c, "radius", catalog.LengthM)
	if err != nil {
		return err
	}
	if curved {
		hill.RadiusM = []float64{radiusM, radiusM}
	}
	altitudeM, high, err := quantityFlag(c, "altitude", catalog.LengthM)
	if err != nil {
		return err
	}
	if high {
		o.AltitudeM = &altitudeM
	}
	h, err := holding.Advise(hill, class, o)
	if err != nil {
		return err
	}
	if c.Bool("json") {
		return s.printJSON(holdAnswer{catalog.Schema, gradePct, lengthM, h, catalog.Cautions()})
	}
	s.printHold(class, h, u)
	s.printCautions(h.Cautions)
	return nil
}

// printHold writes one hold for people: the answer, then what stands behind it.
func (s *session) printHold(class vehicle.Class, h catalog.Hold, u catalog.Units) {
	words := h.Words.Metric
	if u == catalog.US {
		words = h.Words.US
	}
	fmt.Fprintf(s.out, "%s at %s\n%s\n", wording.WithoutMass(class.Name), u.Mass(h.MassKg), wording.Wrapped(words, 92, 0))
	if h.Holds {
		s.para("gear %d (%.2f), stage %d, %s, %.0f rpm, %.0f %% of the retarder; limited by: %s", h.Gear, h.Ratio, h.Stage, u.Speed(h.SpeedMPS), h.EngineRPM, h.RetarderUsePct, h.LimitedBy)
	} else if h.LimitedBy == catalog.LimitFriction {
		s.para("NOT HELD: the driven wheels cannot grip enough; this truck does not take this hill")
	} else {
		s.para("NOT HELD: %.0f kW are missing; this truck does not take this hill at this mass", h.MissingPowerW/1000)
	}
	switch {
	case h.HeaviestMassKg >= holding.HeaviestSearchedKg:
		s.para("heaviest mass that holds in some gear: over %s; the class's legal limit still stands", u.Mass(holding.HeaviestSearchedKg))
	case h.HeaviestMassKg > 0:
		s.para("heaviest mass that holds in some gear: %s; the class's legal limit still stands", u.MassDown(h.HeaviestMassKg))
	default:
		s.para("heaviest mass that holds in some gear: none")
	}
	if up := h.OneGearUpIn(u); up != "" {
		s.para("one gear higher: %s", up)
	}
	s.printBehind(&h, u)
	for _, d := range h.Defaults {
		s.para("default used: %s", d)
	}
}

// para writes a line of a list, wrapped and set in.
func (s *session) para(format string, a ...any) {
	fmt.Fprintf(s.out, "  %s\n", wording.Wrapped(fmt.Sprintf(format, a...), 92, 4))
}

// printBehind writes how close to the edge the advice is, what else limits the
// speed, and what the service brakes would reach.
func (s *session) printBehind(h *catalog.Hold, u catalog.Units) {
	for _, x := range h.Sensitivity {
		answer := "NOT HELD"
		if x.Holds {
			answer = fmt.Sprintf("gear %d, %s", x.Gear, u.Speed(x.SpeedMPS))
		}
		s.para("if %s: %s", x.Change, answer)
	}
	for _, l := range h.Limits {
		note := ""
		if l.Note != "" {
			note = " (" + l.NoteIn(u) + ")"
		}
		s.para("ceiling, %s: %s%s", l.Reason, u.Speed(l.SpeedMPS), note)
	}
	if n := len(h.Heat); n > 0 && h.LimitedBy != catalog.LimitFriction {
		last := h.Heat[n-1]
		s.para("why not to lean on the service brakes (%s): at the foot about %s by the grade-severity model, %s by heat balance, %.0f %% of their cold force left", h.HeatCaseIn(u), u.Temp(last.TempC), u.Temp(last.BalanceC), 100*last.ForceShare)
	}
}

// printCautions writes the cautions that every answer carries, and those of this one.
func (s *session) printCautions(own []string) {
	fmt.Fprintln(s.out, "\nCautions")
	for _, list := range [][]string{own, catalog.Cautions()} {
		for _, t := range list {
			fmt.Fprintf(s.out, "- %s\n", wording.Wrapped(t, 92, 2))
		}
	}
}
