package answer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain/raster"
)

// Comparison says which of some routes a truck can take, each travelled from its first
// vertex to its last.
type Comparison struct {
	Schema   string            `json:"schema"`
	Class    string            `json:"class"`
	MassKg   float64           `json:"mass_kg"`
	Routes   []ranking.Verdict `json:"routes"`
	Skipped  []routes.Skipped  `json:"skipped"`
	Warnings []string          `json:"warnings"`
	Cautions []string          `json:"cautions"`

	steps []string // rasters that stand at different heights, among the warnings
}

// MostCompared is how many routes one comparison takes.
const MostCompared = 20

// ErrTooManyRoutes is the error of a comparison of more than MostCompared.
var ErrTooManyRoutes = errors.New("too many routes to compare")

func newComparison(class *vehicle.Class, massKg float64) *Comparison {
	if massKg == 0 {
		massKg = class.MassMaxKg
	}
	return &Comparison{Schema: catalog.Schema, Class: class.ID, MassKg: massKg, Skipped: []routes.Skipped{}, Warnings: []string{}, Cautions: catalog.Cautions()}
}

// CompareSurveyed surveys the routes for the one class of o, storing nothing. Places in
// words are in the units of placesIn.
func CompareSurveyed(ctx context.Context, surface *raster.Surface, roads *survey.Roads, o survey.Options, placesIn catalog.Units) (*Comparison, error) {
	if len(o.Classes) != 1 {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, What: fmt.Sprintf("a comparison for %d classes", len(o.Classes)), Fix: "name one class"}
	}
	a := newComparison(&o.Classes[0], o.MassKg)
	var list []ranking.Candidate
	var failed error
	var steps survey.StepCheck
	for r, err := range survey.Results(ctx, surface, roads.Routes(ctx), o) {
		switch {
		case err != nil:
			return nil, err
		case r.Err != nil:
			failed = r.Err
			a.Skipped = append(a.Skipped, routes.Skipped{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: wording.OneLine(r.Err.Error())})
			continue
		case len(list) == MostCompared:
			return nil, fmt.Errorf("more than %d routes to compare: %w", MostCompared, ErrTooManyRoutes)
		}
		a.Skipped = append(a.Skipped, r.Skipped...)
		steps.Add(r.Profile)
		list = append(list, candidateOf(&r, placesIn))
	}
	if len(list) == 0 {
		return nil, failed
	}
	a.steps = steps.Steps(ctx, surface)
	a.Skipped = append(roads.Skipped(), a.Skipped...)
	a.Warnings = append(append(a.Warnings, surface.Warnings()...), a.steps...)
	a.Routes = ranking.Compare(&o.Classes[0], list)
	return a, nil
}

// candidateOf is a surveyed route with its descents forward, named by where they begin.
func candidateOf(r *survey.Result, placesIn catalog.Units) ranking.Candidate {
	isWhole, _ := r.Profile.Whole()
	k := ranking.Candidate{Route: r.Route.ID, LengthM: r.Profile.LengthM, Profile: r.Profile, MissingM: r.Profile.MissingM, Reliable: isWhole}
	for _, e := range r.Entries {
		if e.Descent.Direction == routes.Forward {
			e.Descent.ID = fmt.Sprintf("%s, station %s", e.Descent.Name, placesIn.Station(e.Descent.StartM))
			k.Entries = append(k.Entries, e)
		}
	}
	return k
}

// CompareStored compares routes of the catalogue, named by id, name or number.
func CompareStored(ctx context.Context, cat *store.Catalog, class *vehicle.Class, names []string) (*Comparison, error) {
	known, err := cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	forward := routes.Forward
	var list []ranking.Candidate
	for _, name := range names {
		isFound := false
		for _, r := range known {
			if r.ID != name && r.Name != name && r.Ref != name {
				continue
			}
			isFound = true
			es, err := cat.Descents(ctx, store.Filter{Route: r.ID, Direction: &forward})
			if err != nil {
				return nil, err
			}
			list = append(list, ranking.Candidate{Route: r.ID, LengthM: r.LengthM, MissingM: r.MissingM, Reliable: r.Reliable, Entries: es})
		}
		if !isFound {
			return nil, &catalog.Fault{Kind: catalog.ErrNotFound, File: cat.Path(), What: fmt.Sprintf("no route %q", name), Fix: "gradeline list shows the routes; with --terrain name at least one road file"}
		}
	}
	a := newComparison(class, 0)
	a.Routes = ranking.Compare(class, list)
	return a, nil
}

// Gaps are the routes, or parts of the files, that could not be compared, in words.
func (a *Comparison) Gaps() []string { return survey.SkipGaps(a.Skipped) }

// IsComplete tells whether every route has an answer.
func (a *Comparison) IsComplete() bool {
	for i := range a.Routes {
		if a.Routes[i].Unknown != "" {
			return false
		}
	}
	return len(a.Skipped)+len(a.steps) == 0
}

// WriteText writes the table and what stands behind it.
func (a *Comparison) WriteText(w io.Writer, u catalog.Units) error {
	return table.WriteText(w, a.Table(u))
}

// Table has a line a route that a terminal of 100 columns takes; what names descents
// stands in words below.
func (a *Comparison) Table(u catalog.Units) table.Table {
	t := table.Table{Title: fmt.Sprintf("Routes for %s at %s, each from its first vertex to its last", a.Class, u.Mass(a.MassKg)),
		Header: []string{"place", "route", "length", "answer", "slowest", "on retarder", "drop", "heaviest"}}
	for i := range a.Routes {
		v := &a.Routes[i]
		t.Rows = append(t.Rows, comparisonRow(v, u))
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
		words += fmt.Sprintf(" %s; the worst: %s.", wording.Counted(v.Descents, "descent"), v.Worst)
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

// comparisonRow is the line of one route.
func comparisonRow(v *ranking.Verdict, u catalog.Units) []any {
	outcome := "held"
	switch {
	case !v.Holds:
		outcome = "NOT HELD"
	case v.Unknown != "":
		outcome = "unknown"
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
	return []any{v.Place, v.Route, u.Length(v.LengthM), outcome, slowest, onRetarder, drop, heaviest}
}
