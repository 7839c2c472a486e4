package answer

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// UnknownError is a route, class or place that is not in the catalogue. An empty answer to such a
// question would look like an all-clear.
type UnknownError struct {
	What     string // what the catalogue lacks, as in "no route"
	Name     string // as requested
	Known    []string
	IsListed bool // the message lists what is known
	Fix      string
}

func (e *UnknownError) Error() string {
	text := fmt.Sprintf("the catalogue has %s %q", e.What, e.Name)
	if e.IsListed {
		text += "; it has " + strings.Join(e.Known, ", ")
	}
	if e.Fix != "" {
		text += "; " + e.Fix
	}
	return text
}

// CheckNames refuses a filter by a route or class that the catalogue does not know, as an
// *UnknownError.
func CheckNames(ctx context.Context, cat *store.Catalog, f store.Filter) error {
	if f.Route != "" {
		names, err := routeNames(ctx, cat)
		if err != nil {
			return err
		}
		if !slices.Contains(names, f.Route) {
			return &UnknownError{What: "no route", Name: f.Route, Known: names}
		}
	}
	for _, class := range []string{f.Class, f.NotHeldBy} {
		if err := CheckClass(ctx, cat, class); err != nil {
			return err
		}
	}
	return nil
}

// CheckClass refuses a class for which the catalogue has no answer; "" means no class.
func CheckClass(ctx context.Context, cat *store.Catalog, class string) error {
	if class == "" {
		return nil
	}
	ids, err := cat.ClassIDs(ctx)
	if err == nil && !slices.Contains(ids, class) {
		err = &UnknownError{What: "no answer for a class", Name: class, Known: ids, IsListed: true}
	}
	return err
}

// routeNames are the ids, names and numbers of the catalogue's roads.
func routeNames(ctx context.Context, cat *store.Catalog) ([]string, error) {
	rs, err := cat.Routes(ctx)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, r := range rs {
		names = append(names, r.ID, r.Name, r.Ref)
	}
	return names, nil
}

// Chosen reads the descents of a filter, all of whose names the catalogue must know.
func Chosen(ctx context.Context, cat *store.Catalog, f store.Filter) ([]catalog.Entry, error) {
	if err := CheckNames(ctx, cat, f); err != nil {
		return nil, err
	}
	return cat.Descents(ctx, f)
}

// Named reads descents by their ids, or the beginnings of ids; the first one that is not there is the
// error of store.Catalog.Descent.
func Named(ctx context.Context, cat *store.Catalog, ids []string) ([]catalog.Entry, error) {
	var es []catalog.Entry
	for _, id := range ids {
		e, err := cat.Descent(ctx, id)
		if err != nil {
			return nil, err
		}
		es = append(es, e)
	}
	return es, nil
}

// OneHill reads a descent with its stored grade line and the places on record along its road.
func OneHill(ctx context.Context, cat *store.Catalog, id string) (e catalog.Entry, line *routes.Profile, sites []catalog.Site, err error) {
	if e, err = cat.Descent(ctx, id); err != nil {
		return e, nil, nil, err
	}
	if line, err = cat.Profile(ctx, e.Descent.ID); err != nil {
		return e, nil, nil, err
	}
	sites, err = cat.Sites(ctx, store.SiteFilter{Route: e.Descent.Route})
	return e, line, sites, err
}
