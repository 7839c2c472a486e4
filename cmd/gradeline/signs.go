package main

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/plot"
	"gradeline/catalog/signs"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
	"gradeline/routes"
)

func (s *session) signsCommand() *cli.Command {
	return &cli.Command{
		Name: "signs", Usage: "signs that descents warrant, by edition; audit against those that stand",
		ArgsUsage: "[DESCENT...] | template | check FILE",
		Flags: append(filterFlags(), outFlag(), forceFlag(), jsonFlag(), unitsFlag(),
			rulesFlag(),
			approachFlag(),
			&cli.StringSliceFlag{Name: "choice", Usage: "`NAME=OPTION` for what the edition leaves open; may be given several times"},
			&cli.StringSliceFlag{Name: "panel-class", Usage: "weight class `ID` on the weight-and-speed panel, at most five; default those of the rule set's country"},
			&cli.StringFlag{Name: "standing", Usage: "GeoJSON `FILE` of the signs that stand, to audit"},
			&cli.StringFlag{Name: "strip", Usage: "draw the strip plan of one descent to an .svg `FILE`"}),
		Action: s.signs,
	}
}

func rulesFlag() cli.Flag {
	return &cli.StringFlag{Name: "rules", Value: "us-2023", Usage: "rule set `ID` (us-2023, uk-2013, haul-road) or a TOML file of your own"}
}

func approachFlag() cli.Flag {
	return &cli.StringFlag{Name: "approach", Usage: "85th percentile or posted `SPEED` before the crest, as in 55mph"}
}

type signsAnswer struct {
	Schema    string           `json:"schema"`
	RuleSet   string           `json:"rule_set"`
	Schedules []signs.Schedule `json:"schedules"`
	Findings  []signs.Finding  `json:"findings"`
	Skipped   []routes.Skipped `json:"skipped"`

	provenance []catalog.Provenance // of the descents asked about

	located  map[int]bool             // standing signs that were near a descent, by feature
	judged   map[int]bool             // of those, the ones that some descent could judge
	unjudged map[int][]routes.Skipped // and why another could not
}

// signRules finds a built-in rule set or reads the user's own.
func signRules(name string) (signs.RuleSet, error) {
	if !strings.HasSuffix(strings.ToLower(name), ".toml") {
		return signs.FindRuleSet(name)
	}
	f, err := os.Open(name)
	if err != nil {
		return signs.RuleSet{}, &catalog.Fault{File: name, What: "cannot be opened", Err: unwrapPath(err), Fix: "give a TOML file, or one of us-2023, uk-2013, haul-road"}
	}
	defer f.Close()
	return signs.ParseRuleSet(name, f)
}

func (s *session) signs(c *cli.Context) error {
	u, err := units(c)
	if err != nil {
		return err
	}
	switch c.Args().First() {
	case "template", "check":
		return s.signRuleFile(c)
	}
	rules, err := signRules(c.String("rules"))
	if err != nil {
		return err
	}
	approachMPS, _, err := quantityFlag(c, "approach", catalog.SpeedMPS)
	if err != nil {
		return err
	}
	choices := map[string]string{}
	for _, x := range c.StringSlice("choice") {
		name, option, ok := strings.Cut(x, "=")
		if !ok {
			return usagef("--choice %q: write NAME=OPTION", x)
		}
		choices[name] = option
	}
	var standing []signs.Standing
	a := signsAnswer{Schema: catalog.Schema, RuleSet: rules.ID, Schedules: []signs.Schedule{}, Findings: []signs.Finding{}, Skipped: []routes.Skipped{}}
	if file := c.String("standing"); file != "" {
		f, err := os.Open(file)
		if err != nil {
			return &catalog.Fault{File: file, What: "cannot be opened", Err: unwrapPath(err), Fix: "give a GeoJSON file of signs"}
		}
		defer f.Close()
		if standing, a.Skipped, err = signs.ParseStanding(file, f); err != nil {
			return err
		}
	}
	cat, es, err := namedOrChosen(c)
	if err != nil {
		return err
	}
	defer cat.Close()
	if file := c.String("strip"); file != "" && file != "-" && !strings.HasSuffix(strings.ToLower(file), ".svg") {
		return usagef("--strip %s: the strip plan is an .svg drawing; end the name in .svg", file)
	}
	if c.String("strip") != "" && len(es) != 1 {
		return usagef("--strip draws one descent; name it")
	}
	for i := range es {
		plan := signPlan{rules: rules, approachMPS: approachMPS, choices: choices, panel: c.StringSlice("panel-class"), standing: standing, audit: c.String("standing") != ""}
		if err := s.planSigns(c, cat, &es[i], plan, &a); err != nil {
			return err
		}
	}
	for _, st := range standing {
		if !a.judged[st.Feature] { // one that faces the other way on one descent is judged on another
			for _, k := range a.unjudged[st.Feature] {
				if !slices.Contains(a.Skipped, k) {
					a.Skipped = append(a.Skipped, k)
				}
			}
		}
		if !a.located[st.Feature] {
			a.Skipped = append(a.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, feature %d", c.String("standing"), st.Feature), Why: "near none of the descents asked about"})
		}
	}
	if file := c.String("strip"); file != "" {
		if err := s.writeTo(c, file, func(w io.Writer) error { return plot.StripSVG(w, a.Schedules[0], u) }); err != nil {
			return err
		}
	}
	if err := s.writeSigns(c, &a, u); err != nil {
		return err
	}
	for _, k := range a.Skipped {
		s.say("gap: %s: %s", k.Where, k.Why)
	}
	if len(a.Skipped) > 0 {
		return errGaps
	}
	return nil
}

// signPlan is what is asked for every descent.
type signPlan struct {
	rules       signs.RuleSet
	approachMPS float64
	choices     map[string]string
	panel       []string
	standing    []signs.Standing
	audit       bool
}

// planSigns adds one descent's schedule, and its audit, to the answer.
func (s *session) planSigns(c *cli.Context, cat *store.Catalog, e *catalog.Entry, k signPlan, a *signsAnswer) error {
	p, err := cat.Profile(c.Context, e.Descent.ID)
	if err != nil {
		return err
	}
	in := signs.Input{Descent: e.Descent, Profile: p, Holds: e.Holds, ApproachSpeedMPS: k.approachMPS, Choices: k.choices, PanelClasses: k.panel}
	dir := e.Descent.Direction
	sites, err := cat.Sites(c.Context, store.SiteFilter{Route: e.Descent.Route, Direction: &dir})
	if err != nil {
		return err
	}
	in.Sites = sites
	sch, err := signs.Plan(in, k.rules)
	if err != nil {
		return err
	}
	a.Schedules, a.provenance = append(a.Schedules, sch), append(a.provenance, e.Provenance)
	if !k.audit {
		return nil
	}
	const besideM = 40 // further from the line a sign belongs to another road
	at, _ := signs.Locate(k.standing, p, besideM)
	if a.located == nil {
		a.located, a.judged, a.unjudged = map[int]bool{}, map[int]bool{}, map[int][]routes.Skipped{}
	}
	o := signs.AuditOptions{}
	for _, st := range at {
		a.located[st.Feature] = true
		if why := signs.Unjudged(sch, []signs.Standing{st}, o); len(why) > 0 {
			a.unjudged[st.Feature] = append(a.unjudged[st.Feature], why...)
		} else {
			a.judged[st.Feature] = true
		}
	}
	a.Findings = append(a.Findings, signs.AuditStanding(sch, at, o)...)
	return nil
}

// namedOrChosen gives the descents named as arguments, or all that the filter keeps.
func namedOrChosen(c *cli.Context) (*store.Catalog, []catalog.Entry, error) {
	if c.NArg() == 0 {
		return chosen(c)
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, nil, err
	}
	var es []catalog.Entry
	for _, id := range c.Args().Slice() {
		e, err := cat.Descent(c.Context, id)
		if err != nil {
			cat.Close()
			return nil, nil, err
		}
		es = append(es, e)
	}
	return cat, es, nil
}

// writeSigns prints the schedules as JSON or text, or writes CSV or XLSX.
func (s *session) writeSigns(c *cli.Context, a *signsAnswer, u catalog.Units) error {
	if c.Bool("json") {
		return s.printJSON(a)
	}
	out := strings.ToLower(c.String("o"))
	switch {
	case strings.HasSuffix(out, ".xlsx"):
		return s.toOutput(c, func(w io.Writer) error { return table.WriteXLSX(w, signTables(a, u, true)) })
	case strings.HasSuffix(out, ".csv"):
		return s.toOutput(c, func(w io.Writer) error { return table.WriteCSV(w, joined(signTables(a, u, true))) })
	case strings.HasSuffix(out, ".geojson"):
		o := overlay.PlacesOptions{Kind: "signs", Cautions: []string{catalog.SignCaution}, Provenance: a.provenance}
		return s.toOutput(c, func(w io.Writer) error { return overlay.PlacesOverlay(w, signPlaces(a.Schedules), o) })
	case out != "" && out != "-":
		return usagef("-o %s: the file must end in .csv, .xlsx or .geojson (one point a post)", c.String("o"))
	}
	for i, t := range signTables(a, u, false) {
		if i > 0 {
			fmt.Fprintln(s.out)
		}
		if err := table.WriteText(s.out, t); err != nil {
			return err
		}
	}
	return nil
}
