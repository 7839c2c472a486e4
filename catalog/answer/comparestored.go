package answer

import (
	"context"
	"errors"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/catalog/whatif"
	"gradeline/routes"
)

// CompareStored compares routes of the catalogue, named by id, name or number. For a mass or a weather
// the advice is worked out again on the stored grade lines.
func CompareStored(ctx context.Context, cat *store.Catalog, q CompareQuery, names []string) (*Comparison, error) {
	if len(q.Classes) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrClass, What: "a comparison for no class", Fix: "name at least one class"}
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
	parts, err := cat.SteepParts(ctx, store.Filter{Route: r.ID, Direction: &forward})
	if err != nil {
		return k, err
	}
	for i := range parts.Parts {
		k.SteepParts = append(k.SteepParts, parts.Parts[i].SteepPart)
	}
	if k.Entries, err = cat.Descents(ctx, store.Filter{Route: r.ID, Direction: &forward}); err != nil || q.MassKg == 0 && q.Weather == nil {
		return k, err
	}
	for i := range k.Entries {
		if err := adviseAnew(ctx, cat, &k.Entries[i], q); err != nil {
			return k, err
		}
	}
	return k, nil
}

// adviseAnew replaces the holds of an entry by those of the query's classes, mass and weather. A class
// that the catalogue does not describe well enough gets no hold.
func adviseAnew(ctx context.Context, cat *store.Catalog, e *catalog.Entry, q CompareQuery) error {
	stored := e.Holds
	e.Holds = nil
	line, err := storedLine(ctx, cat, e)
	if err != nil {
		return err
	}
	for i := range q.Classes {
		h := catalog.HoldFor(stored, q.Classes[i].ID)
		if h == nil {
			continue
		}
		now, why, err := adviseStored(line, e, h, &q.Classes[i], holding.Options{MassKg: q.MassKg, Weather: q.Weather})
		switch {
		case err != nil: // the mass is outside this class, or the catalogue can't be read
			return err
		case why != "":
			e.Review.InQuestion = why
		case now != nil:
			e.Holds = append(e.Holds, *now)
		}
	}
	return nil
}

// storedLine is the grade line that the catalogue keeps of an entry; nil where it keeps none.
func storedLine(ctx context.Context, cat *store.Catalog, e *catalog.Entry) (*routes.Profile, error) {
	p, err := cat.Profile(ctx, e.Descent.ID)
	if errors.Is(err, catalog.ErrNotFound) {
		return nil, nil
	}
	return p, err
}

// adviseStored computes the advice of a stored hold again under other options, on the entry's
// stored grade line, under the posted limits of that hold and for its weather unless the options
// name another. It is nil with the reason where the
// catalogue holds too little for that, and nil without one where the hill cannot be computed.
func adviseStored(p *routes.Profile, e *catalog.Entry, h *catalog.Hold, class *vehicle.Class, o holding.Options) (now *catalog.Hold, why string, err error) {
	switch stale := vehicle.WhyStale(h, []vehicle.Class{*class}); {
	case p == nil:
		return nil, "no grade line is stored with it; survey its road again", nil
	case stale != "":
		return nil, stale, nil
	case len(e.Descent.GoesOn) > 0: // the stored advice counts the complete hill
		return nil, "its hill continues in other roads, whose grade line is not part of it; compare its roads with --terrain", nil
	}
	if o.Weather == nil {
		o.Weather = h.Weather
	}
	hill := holding.HillFromDescent(p, &e.Descent, nil)
	if v := whatif.PostedMPS(h); v > 0 {
		hill = holding.WithPosted(hill, v)
	}
	anew, err := holding.Advise(hill, *class, o)
	if err != nil {
		if errors.Is(err, catalog.ErrClass) {
			return nil, "", err
		}
		return nil, "", nil
	}
	return &anew, "", nil
}
