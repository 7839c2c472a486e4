package answer

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// CompareStored compares routes of the catalogue, named by id, name or number. For a
// mass the advice is made afresh on the grade lines that the catalogue keeps.
func CompareStored(ctx context.Context, cat *store.Catalog, q CompareQuery, names []string) (*Comparison, error) {
	if len(q.Classes) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, What: "a comparison for no class", Fix: "name one class at least"}
	}
	known, err := cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	var list []ranking.Candidate
	taken := map[string]bool{}
	for _, name := range names {
		isFound := false
		for i := range known {
			r := &known[i]
			if r.ID != name && r.Name != name && r.Ref != name {
				continue
			}
			if isFound = true; taken[r.ID] {
				continue
			}
			taken[r.ID] = true
			k, err := storedCandidate(ctx, cat, r, q)
			if err != nil {
				return nil, err
			}
			list = append(list, k)
		}
		if !isFound {
			return nil, &catalog.Fault{Kind: catalog.ErrNotFound, File: cat.Path(), What: fmt.Sprintf("no route %q", name), Fix: "gradeline list shows the routes; with --terrain name at least one road file"}
		}
	}
	return newComparison(q, list), nil
}

// storedCandidate is a route of the catalogue with its descents forward.
func storedCandidate(ctx context.Context, cat *store.Catalog, r *store.RouteRecord, q CompareQuery) (ranking.Candidate, error) {
	forward := routes.Forward
	k := ranking.Candidate{Route: r.ID, LengthM: r.LengthM, MissingM: r.MissingM, Reliable: r.Reliable}
	var err error
	if k.Entries, err = cat.Descents(ctx, store.Filter{Route: r.ID, Direction: &forward}); err != nil || q.MassKg == 0 {
		return k, err
	}
	for i := range k.Entries {
		if err := adviseAtMass(ctx, cat, &k.Entries[i], q.Classes, q.MassKg); err != nil {
			return k, err
		}
	}
	return k, nil
}

// adviseAtMass replaces the holds of an entry by those of the classes at a mass. A class
// for which the catalogue says too little has no hold then.
func adviseAtMass(ctx context.Context, cat *store.Catalog, e *catalog.Entry, classes []vehicle.Class, massKg float64) error {
	p, err := cat.Profile(ctx, e.Descent.ID)
	if err != nil && !errors.Is(err, catalog.ErrNotFound) {
		return err
	}
	stored := e.Holds
	e.Holds = nil
	if err != nil {
		e.Review.InQuestion = "no grade line is kept with it; survey its road again"
		return nil
	}
	for i := range classes {
		h := catalog.HoldFor(stored, classes[i].ID)
		if h == nil {
			continue
		}
		if h.ClassFigures != classes[i].Fingerprint() {
			e.Review.InQuestion = "class " + h.Class + " has changed since the survey; survey its road again"
			continue
		}
		hill := holding.HillFromDescent(p, &e.Descent, nil)
		if v := postedMPS(h); v > 0 {
			hill = holding.WithPosted(hill, v)
		}
		now, err := holding.Advise(hill, classes[i], holding.Options{MassKg: massKg})
		if err != nil {
			if errors.Is(err, catalog.ErrClass) { // the mass is none of this class
				return err
			}
			continue
		}
		e.Holds = append(e.Holds, now)
	}
	return nil
}

// postedMPS is the lowest posted limit that a hold was made under; 0 for none.
func postedMPS(h *catalog.Hold) float64 {
	least := math.Inf(1)
	for _, l := range h.Limits {
		if l.Reason == catalog.LimitPosted {
			least = math.Min(least, l.SpeedMPS)
		}
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return least
}
