package overlay

import (
	"io"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/terrain"
)

// Place is a point of an overlay with properties set by the caller, whose names end in their units.
type Place struct {
	ID             string
	LonDeg, LatDeg float64
	Properties     map[string]any
}

// PlacesOptions describe an overlay of places.
type PlacesOptions struct {
	Kind       string   // "signs", "sites", "practice"
	Class      string   // class of the overlay; may be empty
	Cautions   []string // in addition to catalog.Cautions
	Notes      []string
	Provenance []catalog.Provenance
	Invented   bool
}

// PlacesOverlay writes points as an RFC 7946 overlay with the same foreign
// member as the other overlays. Two places with one id are refused.
func PlacesOverlay(w io.Writer, ps []Place, o PlacesOptions) error {
	b := newOverlay(o.Kind, o.Class, nil)
	g := &b.c.Gradeline
	g.Notes = append([]string{}, o.Notes...)
	g.Cautions = append(g.Cautions, o.Cautions...)
	for _, p := range o.Provenance {
		b.provenanceNo(p)
		o.Invented = o.Invented || p.Invented
	}
	if o.Invented {
		g.Invented, g.Banner = true, wording.InventedBanner
	}
	seen := map[string]bool{}
	for _, p := range ps {
		what := ""
		switch {
		case !(terrain.Point{LonDeg: p.LonDeg, LatDeg: p.LatDeg}).Valid():
			what = "is not a place on Earth"
		case p.ID == "" || seen[p.ID]:
			what = "has no id of its own"
		}
		if what != "" {
			return &catalog.Fault{Kind: terrain.ErrInput, Feature: o.Kind + " " + p.ID, What: what, Fix: "correct its coordinates or its id"}
		}
		seen[p.ID] = true
		props := p.Properties
		if props == nil {
			props = map[string]any{}
		}
		b.add(p.ID, geometry{"Point", position{p.LonDeg, p.LatDeg}.append(nil)}, props)
	}
	return writeCollection(w, b.c)
}

// SitesOverlay writes the sites next to the roads.
func SitesOverlay(w io.Writer, sites []catalog.Site, invented bool) error {
	ps := make([]Place, len(sites))
	for i, s := range sites {
		ps[i] = Place{ID: s.ID, LonDeg: s.Point.LonDeg, LatDeg: s.Point.LatDeg, Properties: map[string]any{
			"kind": string(s.Kind), "name": s.Name, "route": s.Route, "station_m": s.StationM, "side": s.Side,
			"direction": s.Direction, "code": s.Code, "legend": s.Legend, "note": s.Note, "source": s.Source,
		}}
	}
	return PlacesOverlay(w, ps, PlacesOptions{Kind: "sites", Invented: invented,
		Notes: []string{"Sites are as recorded in the catalogue; there may be others. station_m is null where a site was not placed on a route."}})
}
