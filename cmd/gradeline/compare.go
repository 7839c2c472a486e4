package main

import (
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/urfave/cli/v2"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/network"
)

// mostCandidates is how many routes one comparison takes.
const mostCandidates = 20

func (s *session) compareCommand() *cli.Command {
	return &cli.Command{
		Name: "compare", Usage: "which of these routes can this truck take, each travelled from its first vertex to its last",
		ArgsUsage: "ROUTES...",
		Flags: append(terrainFlags(), catalogFlag(), classFlag(), classesFlag(),
			&cli.StringFlag{Name: "mass", Usage: "`MASS` with its unit; default the class's upper end; needs --terrain"},
			&cli.StringFlag{Name: "layer", Usage: "`LAYER` of a route file that has several"},
			&cli.StringFlag{Name: "min-mean", Value: "4%", Usage: "least mean `DOWNGRADE` of a descent"},
			&cli.StringFlag{Name: "min-length", Value: "800m", Usage: "least `LENGTH` of a descent"},
			jsonFlag(), unitsFlag()),
		Action: s.compare,
	}
}

type compareAnswer struct {
	Schema   string            `json:"schema"`
	Class    string            `json:"class"`
	MassKg   float64           `json:"mass_kg"`
	Routes   []ranking.Verdict `json:"routes"`
	Skipped  []routes.Skipped  `json:"skipped"`
	Warnings []string          `json:"warnings"`
	Cautions []string          `json:"cautions"`
	steps    []string          // rasters that stand at different heights, among the warnings
}

func (s *session) compare(c *cli.Context) error {
	if err := argCount(c, 1, mostCandidates, "one to twenty routes"); err != nil {
		return err
	}
	u, err := units(c)
	if err != nil {
		return err
	}
	class, err := weightClass(c)
	if err != nil {
		return err
	}
	massKg, hasMass, err := quantityFlag(c, "mass", catalog.MassKg)
	if err != nil {
		return err
	}
	a := compareAnswer{Schema: catalog.Schema, Class: class.ID, MassKg: class.MassMaxKg, Skipped: []routes.Skipped{}, Warnings: []string{}, Cautions: catalog.Cautions()}
	var list []ranking.Candidate
	if len(c.StringSlice("terrain")) > 0 {
		if hasMass {
			a.MassKg = massKg
		}
		list, err = s.surveyCandidates(c, class, massKg, &a)
	} else {
		if hasMass {
			return usagef("--mass needs --terrain: the catalogue keeps advice for the class's upper end")
		}
		list, err = s.storedCandidates(c, class)
	}
	if err != nil {
		return err
	}
	a.Routes = ranking.Compare(&class, list)
	if c.Bool("json") {
		err = s.printJSON(a)
	} else {
		err = table.WriteText(s.out, compareTable(&a, u))
	}
	if err != nil {
		return err
	}
	for _, w := range a.Warnings {
		s.say("warning: %s", w)
	}
	gaps := len(a.Skipped)+len(a.steps) > 0
	for _, k := range a.Skipped {
		s.say("gap: %s: skipped: %s", k.Where, k.Why)
	}
	for _, v := range a.Routes {
		gaps = gaps || v.Unknown != ""
	}
	if gaps {
		return errGaps
	}
	return nil
}

// surveyCandidates surveys the route files for one class, storing nothing; what was
// skipped and what the rasters warn of goes into the answer.
func (s *session) surveyCandidates(c *cli.Context, class vehicle.Class, massKg float64, a *compareAnswer) ([]ranking.Candidate, error) {
	o, err := s.surveyOptions(c, []vehicle.Class{class})
	if err != nil {
		return nil, err
	}
	o.MassKg = massKg
	surface, err := openTerrain(c)
	if err != nil {
		return nil, err
	}
	defer surface.Close()
	_, routeFiles := inputs(c)
	var list []ranking.Candidate
	var failed error
	var steps survey.StepCheck
	roads := survey.ReadRoads(routeFiles, network.Options{Options: s.roadOptions(c), AsDrawn: true})
	for r, err := range survey.Results(c.Context, surface, roads.Routes(c.Context), o) {
		if err != nil {
			return nil, err
		}
		if r.Err != nil {
			failed = r.Err
			a.Skipped = append(a.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: wording.OneLine(r.Err.Error())})
			continue
		}
		if len(list) == mostCandidates {
			return nil, usagef("more than %d routes to compare", mostCandidates)
		}
		a.Skipped = append(a.Skipped, r.Skipped...)
		isWhole, _ := r.Profile.Whole()
		k := ranking.Candidate{Route: r.Route.ID, LengthM: r.Profile.LengthM, Profile: r.Profile, MissingM: r.Profile.MissingM, Reliable: isWhole}
		for i := range r.Entries {
			e := r.Entries[i]
			if e.Descent.Direction == routes.Forward {
				e.Descent.ID = fmt.Sprintf("%s, station %s", e.Descent.Name, placesIn(c).Station(e.Descent.StartM))
				k.Entries = append(k.Entries, e)
			}
		}
		steps.Add(r.Profile)
		list = append(list, k)
	}
	a.steps = steps.Steps(c.Context, surface)
	a.Skipped = append(roads.Skipped(), a.Skipped...)
	a.Warnings = append(append(a.Warnings, surface.Warnings()...), a.steps...)
	if len(list) == 0 {
		return nil, failed
	}
	return list, nil
}

// placesIn is the unit system of places in words: JSON stays metric.
func placesIn(c *cli.Context) catalog.Units {
	if u, err := units(c); err == nil && !c.Bool("json") {
		return u
	}
	return catalog.Metric
}

// storedCandidates takes routes of the catalogue by id, name or number.
func (s *session) storedCandidates(c *cli.Context, class vehicle.Class) ([]ranking.Candidate, error) {
	for _, name := range c.Args().Slice() {
		if _, err := os.Stat(name); err == nil {
			return nil, usagef("%s is a file; files of routes need --terrain with an elevation raster", name)
		}
	}
	cat, err := openCatalog(c)
	if err != nil {
		return nil, err
	}
	defer cat.Close()
	var list []ranking.Candidate
	forward := routes.Forward
	known, err := cat.Routes(c.Context)
	if err != nil {
		return nil, err
	}
	for _, name := range c.Args().Slice() {
		var rs []store.RouteRecord
		for _, r := range known {
			if r.ID == name || r.Name == name || r.Ref == name {
				rs = append(rs, r)
			}
		}
		if len(rs) == 0 {
			return nil, &catalog.Fault{Kind: catalog.ErrNotFound, File: c.String("catalog"), What: fmt.Sprintf("no route %q", name), Fix: "gradeline list shows the routes; with --terrain name at least one road file"}
		}
		for _, r := range rs {
			es, err := cat.Descents(c.Context, store.Filter{Route: r.ID, Direction: &forward})
			if err != nil {
				return nil, err
			}
			list = append(list, ranking.Candidate{Route: r.ID, LengthM: r.LengthM, MissingM: r.MissingM, Reliable: r.Reliable, Entries: es})
		}
	}
	return list, nil
}

// compareTable has a line a route that a terminal of 100 columns takes; what names
// descents stands in words below.
func compareTable(a *compareAnswer, u catalog.Units) table.Table {
	t := table.Table{Title: fmt.Sprintf("Routes for %s at %s, each from its first vertex to its last", a.Class, u.Mass(a.MassKg)),
		Header: []string{"place", "route", "length", "answer", "slowest", "on retarder", "drop", "heaviest"}}
	for i := range a.Routes {
		v := &a.Routes[i]
		answer := "held"
		switch {
		case !v.Holds:
			answer = "NOT HELD"
		case v.Unknown != "":
			answer = "unknown"
		}
		slowest, onRetarder, heaviest, drop := "none", "none", "no limit", "unknown"
		if v.ExcessDropM != nil {
			drop = u.Height(*v.ExcessDropM)
		} else if v.Descents > 0 {
			drop = "≥" + u.Height(math.Floor(v.ExcessInDescentsM))
		}
		if v.SlowestMPS > 0 {
			slowest, onRetarder = u.Speed(v.SlowestMPS), fmt.Sprintf("%.0f min", v.OnRetarderS/60)
		}
		switch {
		case v.HeaviestMassKg > 0:
			heaviest = u.MassDown(v.HeaviestMassKg)
		case v.Descents > 0:
			heaviest = "none"
		}
		t.Rows = append(t.Rows, []any{v.Place, v.Route, u.Length(v.LengthM), answer, slowest, onRetarder, drop, heaviest})
		t.Notes = append(t.Notes, fmt.Sprintf("%d. %s: %s", v.Place, v.Route, routeWords(v, u)))
	}
	t.Notes = append(t.Notes, "Drop: what the retarder must carry, that is what is left of all drops on the way after the grade on which the truck rolls freely has taken its share; all of it only with --terrain, which gives the whole grade line (≥: at least). Heaviest: up to that mass every descent is held; the class's own limit still stands.")
	t.Notes = append(t.Notes, "Length, traffic and curves between the descents are not weighed; a route that is not held is not for this truck.")
	t.Notes = append(t.Notes, a.Cautions...)
	return t
}

// routeWords says of a route why it has its place, its worst descent, and what sets
// its slowest speed where the retarder does not.
func routeWords(v *ranking.Verdict, u catalog.Units) string {
	words := v.WhyIn(u) + "."
	switch {
	case v.Descents == 0 && v.Unknown != "":
		words += " No sustained downgrade in what is known."
	case v.Worst != "" && v.Holds:
		words += fmt.Sprintf(" %s; the worst: %s.", counted(v.Descents, "descent"), v.Worst)
	case v.Worst != "" && len(v.NotHeld) > 1:
		words += fmt.Sprintf(" The worst: %s.", v.Worst)
	}
	if len(v.NotHeld) > 0 {
		words += " Not held: " + strings.Join(v.NotHeld, "; ") + "."
	}
	if v.Holds && v.SlowestBy == catalog.LimitCurve {
		words += fmt.Sprintf(" A curve sets the slowest speed, %s on %s; on the straight the retarder would hold more.", u.Speed(v.SlowestMPS), v.SlowestOn)
	}
	return words
}
