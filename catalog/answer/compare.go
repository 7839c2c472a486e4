package answer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/plot"
	"gradeline/catalog/ranking"
	"gradeline/catalog/resurvey"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// Comparison says which of some routes a truck, or each truck of a fleet, can take,
// each route travelled from its first vertex to its last.
type Comparison struct {
	Schema   string            `json:"schema"`
	Class    string            `json:"class"`   // several are separated by commas
	MassKg   float64           `json:"mass_kg"` // of the first class
	Prefer   ranking.Prefer    `json:"prefer"`
	Routes   []ranking.Verdict `json:"routes"`          // class after class, each in order
	ForAll   []string          `json:"held_by_classes"` // routes that every class holds, in the first one's order
	Skipped  []routes.Skipped  `json:"skipped"`
	Warnings []string          `json:"warnings"`
	Cautions []string          `json:"cautions"`

	steps      []string // the warnings about rasters with different heights
	isInvented bool
	credits    []string // what the licences of terrain and roads ask to be printed
	classCount int
	ways       []plot.WayView             // in the order of the first class, for a drawing
	surveyed   map[string]*routes.Descent // by id; nil for a catalogue, whose ids the reader knows
}

// MostCompared is the largest number of routes in one comparison.
const MostCompared = 20

// ErrTooManyRoutes is the error of a comparison of more than MostCompared.
var ErrTooManyRoutes = errors.New("too many routes to compare")

// CompareQuery says for which classes routes are compared, and by what order.
type CompareQuery struct {
	Classes []vehicle.Class
	MassKg  float64          // 0: each class's upper end
	Weather *catalog.Weather // nil: the usual one, or that of stored advice
	Prefer  ranking.Prefer
}

// newComparison ranks candidates for each class.
func newComparison(q CompareQuery, list []ranking.Candidate) *Comparison {
	if q.Prefer == "" {
		q.Prefer = ranking.PreferTime
	}
	a := &Comparison{Schema: catalog.Schema, Prefer: q.Prefer, Routes: []ranking.Verdict{}, ForAll: []string{}, Skipped: []routes.Skipped{}, Warnings: []string{}, Cautions: catalog.Cautions(), classCount: len(q.Classes)}
	var ids []string
	heldBy := map[string]int{}
	for i := range q.Classes {
		c := &q.Classes[i]
		ids = append(ids, c.ID)
		verdicts := ranking.Compare(c, list, ranking.CompareOptions{MassKg: q.MassKg, Prefer: q.Prefer})
		for k := range verdicts {
			if v := &verdicts[k]; v.Held != nil && *v.Held {
				heldBy[v.Route]++
			}
		}
		a.Routes = append(a.Routes, verdicts...)
	}
	a.Class, a.MassKg = strings.Join(ids, ","), q.MassKg
	if q.MassKg == 0 {
		a.MassKg = q.Classes[0].MassMaxKg
	}
	for i := range list {
		a.isInvented = a.isInvented || wording.AnyInvented(list[i].Entries)
		a.credits = addCredits(a.credits, list[i].Entries)
	}
	for i := range len(list) {
		v := &a.Routes[i]
		if heldBy[v.Route] == len(q.Classes) {
			a.ForAll = append(a.ForAll, v.Route)
		}
		for k := range list {
			if list[k].Route == v.Route {
				a.ways = append(a.ways, wayViewOf(v, &list[k]))
				break
			}
		}
	}
	return a
}

// CompareSurveyed surveys roads for the classes, storing nothing.
func CompareSurveyed(ctx context.Context, surface *raster.Surface, roads *survey.Roads, o survey.Options, q CompareQuery) (*Comparison, error) {
	if len(q.Classes) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, What: "a comparison for no class", Fix: "name at least one class"}
	}
	o.Classes, o.MassKg = q.Classes, q.MassKg
	var skipped []routes.Skipped
	var list []ranking.Candidate
	var failed error
	var steps survey.StepCheck
	var namer resurvey.Namer
	for r, err := range survey.Results(ctx, surface, roads.Routes(ctx), o) {
		switch {
		case err != nil:
			return nil, err
		case r.Err != nil:
			failed = r.Err
			skipped = append(skipped, routes.Skipped{Where: fmt.Sprintf("%s, route %q", r.Route.Place, r.Route.ID), Why: wording.OneLine(r.Err.Error())})
			if !errors.Is(r.Err, terrain.ErrVoid) || len(list) == MostCompared {
				continue
			}
			// Its terrain has no ground: what the truck meets there is not known, so it is compared as such.
			list = append(list, ranking.Candidate{Route: r.Route.ID, LengthM: r.Route.LengthM, MissingM: r.Route.LengthM, Reliable: true})
			continue
		case len(list) == MostCompared:
			return nil, fmt.Errorf("more than %d routes to compare: %w", MostCompared, ErrTooManyRoutes)
		}
		skipped = append(skipped, r.Skipped...)
		steps.Add(r.Profile)
		list = append(list, candidateOf(&r, &namer))
	}
	if len(list) == 0 {
		return nil, failed
	}
	a := newComparison(q, list)
	a.surveyed = descentsByID(list)
	a.steps = steps.Steps(ctx, surface)
	a.Skipped = append(append(a.Skipped, roads.Skipped()...), skipped...)
	a.Warnings = append(append(a.Warnings, surface.Warnings()...), a.steps...)
	return a, nil
}

// candidateOf is a surveyed route with its descents in the direction of the line.
func candidateOf(r *survey.Result, namer *resurvey.Namer) ranking.Candidate {
	isWhole, _ := r.Profile.Whole()
	k := ranking.Candidate{Route: r.Route.ID, LengthM: r.Profile.LengthM, Profile: r.Profile, Limits: r.Route.Limits, MissingM: r.Profile.MissingM, Reliable: isWhole}
	for _, e := range r.Entries {
		if e.Descent.Direction == routes.Forward {
			k.Entries = append(k.Entries, e)
		}
	}
	for i := range r.SteepParts {
		if p := &r.SteepParts[i]; p.Direction == routes.Forward {
			k.SteepParts = append(k.SteepParts, p.SteepPart)
		}
	}
	namer.NameDescents(&resurvey.RouteRecord{ID: r.Route.ID, Name: r.Route.Name, Ref: r.Route.Ref}, k.Entries)
	return k
}

func descentsByID(list []ranking.Candidate) map[string]*routes.Descent {
	out := map[string]*routes.Descent{}
	for i := range list {
		for k := range list[i].Entries {
			d := &list[i].Entries[k].Descent
			out[d.ID] = d
		}
	}
	return out
}

// descentWords name a descent for people: one that no catalogue holds by the road and
// the station where it begins.
func (a *Comparison) descentWords(id string, u catalog.Units) string {
	d := a.surveyed[id]
	if d == nil {
		return id
	}
	return fmt.Sprintf("%s, station %s", d.Name, u.Station(d.StartM))
}

// Gaps are the routes, or parts of the files, that could not be compared, in words.
func (a *Comparison) Gaps() []string { return survey.SkipGaps(a.Skipped) }

// IsComplete reports whether every route has an answer.
func (a *Comparison) IsComplete() bool {
	for i := range a.Routes {
		if a.Routes[i].Unknown != "" {
			return false
		}
	}
	return len(a.Skipped)+len(a.steps) == 0
}

// WriteText writes the table and the notes under it.
func (a *Comparison) WriteText(w io.Writer, u catalog.Units) error {
	return table.WriteText(w, a.Table(u))
}
