package answer

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// Sites are places along the roads, and the features of a file that could not be placed.
type Sites struct {
	Schema  string           `json:"schema"`
	Sites   []catalog.Site   `json:"sites"`
	Skipped []routes.Skipped `json:"skipped"`
	// OnRecord counts the places of an imported file that the catalogue has already.
	OnRecord int `json:"already_on_record"`

	isInvented bool
}

// ListSites reads the sites of the catalogue, of one route or of all for "".
func ListSites(ctx context.Context, cat *store.Catalog, route string) (*Sites, error) {
	sites, err := cat.Sites(ctx, store.SiteFilter{Route: route})
	if err != nil {
		return nil, err
	}
	es, err := cat.Descents(ctx, store.Filter{Limit: 1, Brief: true})
	if err != nil {
		return nil, err
	}
	return &Sites{Schema: catalog.Schema, Sites: notNil(sites), Skipped: []routes.Skipped{}, isInvented: len(es) > 0 && es[0].Provenance.Invented}, nil
}

// ImportSites reads places from GeoJSON (see survey.ReadSites), places them on the
// surveyed descents' roads and stores them in one change, those that the catalogue has already left
// out. by is the person who imports them.
func ImportSites(ctx context.Context, cat *store.Catalog, file string, r io.Reader, route, by string) (*Sites, error) {
	sites, skipped, err := survey.ReadSites(file, r)
	if err != nil {
		return nil, err
	}
	es, err := cat.Descents(ctx, store.Filter{Route: route, NoHolds: true})
	if err != nil {
		return nil, err
	}
	profiles := map[string][]*routes.Profile{}
	for i := range es {
		p, err := cat.Profile(ctx, es[i].Descent.ID)
		if errors.Is(err, catalog.ErrNotFound) {
			continue
		}
		if err != nil {
			return nil, err
		}
		profiles[es[i].Descent.Route] = append(profiles[es[i].Descent.Route], p)
	}
	placed, unplaced := survey.PlaceSites(sites, profiles)
	a := &Sites{Schema: catalog.Schema, Sites: []catalog.Site{}, Skipped: notNil(append(skipped, unplaced...))}
	known, err := cat.Sites(ctx, store.SiteFilter{})
	if err != nil {
		return nil, err
	}
	isKnown := func(s catalog.Site) bool {
		return s.ID == "" && slices.ContainsFunc(known, func(k catalog.Site) bool { return isSamePlace(&s, &k) })
	}
	anew := slices.DeleteFunc(placed, isKnown)
	a.OnRecord = len(placed) - len(anew)
	if len(anew) > 0 {
		a.Sites, err = cat.AddSites(ctx, anew, by)
	}
	return a, err
}

// isSamePlace reports whether two sites are one: all is equal but id, note, source and a metre of
// station, which a new survey of the road may move.
func isSamePlace(a, b *catalog.Site) bool {
	const withinM = 1.0
	if a.StationM == nil || b.StationM == nil || math.Abs(*a.StationM-*b.StationM) > withinM {
		return false
	}
	return a.Kind == b.Kind && a.Name == b.Name && a.Route == b.Route && a.Side == b.Side && a.Direction == b.Direction &&
		a.Code == b.Code && a.Legend == b.Legend
}

// Gaps list in words the features that could not be placed.
func (a *Sites) Gaps() []string { return placeGaps(a.Skipped) }

// placeGaps says where each skipped feature is and why it was left out.
func placeGaps(list []routes.Skipped) []string {
	var out []string
	for _, k := range list {
		out = append(out, fmt.Sprintf("%s: %s", k.Where, k.Why))
	}
	return out
}

// WriteText writes the table.
func (a *Sites) WriteText(w io.Writer, u catalog.Units) error { return table.WriteText(w, a.Table(u)) }

// WriteOverlay writes the sites as RFC 7946 GeoJSON.
func (a *Sites) WriteOverlay(w io.Writer) error {
	return overlay.SitesOverlay(w, a.Sites, a.isInvented)
}

// Table lists the sites.
func (a *Sites) Table(u catalog.Units) table.Table {
	t := table.Table{Title: wording.Counted(len(a.Sites), "site"), Header: []string{"site", "kind", "name", "route", "station", "side", "direction", "code"}}
	for _, x := range a.Sites {
		station := "unknown"
		if x.StationM != nil {
			station = u.Station(*x.StationM)
		}
		row := []any{x.ID, string(x.Kind), x.Name, x.Route, station}
		for _, v := range []string{x.Side, x.Direction, x.Code} {
			if v == "" {
				v = "not given"
			}
			row = append(row, v)
		}
		t.Rows = append(t.Rows, row)
	}
	if a.OnRecord > 0 {
		t.Notes = append(t.Notes, wording.Counted(a.OnRecord, "place")+" of the file on record already, not added again.")
	}
	t.Notes = append(t.Notes, "Sites are as recorded; a site that is not listed may still exist. Side is as seen in the direction of travel served; without a direction, a site serves both.")
	return t
}
