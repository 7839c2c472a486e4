package survey

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/routes"
	"gradeline/terrain"
)

// Caps of a file of sites, checked before it is parsed.
const (
	maxSiteBytes = 64 << 20
	maxSites     = 100000
)

// ReadSites reads places along roads from an RFC 7946 FeatureCollection: points, or
// OpenStreetMap's highway=escape lines by their first vertex. kind is the property of
// that name ("brake-check", "escape-ramp", "chain-up", "pullout", "sign"), or follows
// from OpenStreetMap tags (highway=escape, traffic_sign). Other features are skipped
// with the reason.
func ReadSites(file string, r io.Reader) ([]catalog.Site, []routes.Skipped, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxSiteBytes+1))
	if err != nil {
		return nil, nil, &catalog.Fault{Kind: terrain.ErrRead, File: file, What: "cannot be read", Err: err, Fix: "check the file"}
	}
	var fc siteCollection
	if len(b) <= maxSiteBytes {
		if err = json.Unmarshal(b, &fc); err == nil && fc.Type != "FeatureCollection" {
			err = fmt.Errorf("its type is %q", fc.Type)
		}
	}
	switch {
	case len(b) > maxSiteBytes || len(fc.Features) > maxSites:
		return nil, nil, &catalog.Fault{Kind: terrain.ErrInput, File: file, What: fmt.Sprintf("more than %d sites or %d MiB", maxSites, maxSiteBytes>>20), Fix: "split the file"}
	case err != nil:
		return nil, nil, &catalog.Fault{Kind: terrain.ErrInput, File: file, What: "not a GeoJSON FeatureCollection", Err: err, Fix: "name an RFC 7946 FeatureCollection of points"}
	}
	var out []catalog.Site
	var skipped []routes.Skipped
	for i, f := range fc.Features {
		site, why := siteOf(f)
		if why != "" {
			skipped = append(skipped, routes.Skipped{Where: fmt.Sprintf("%s, feature %d", file, i+1), Why: why})
			continue
		}
		site.Source = file
		out = append(out, site)
	}
	return out, skipped, nil
}

// siteCollection is the part of a FeatureCollection that sites need.
type siteCollection struct {
	Type     string         `json:"type"`
	Features []*siteFeature `json:"features"`
}

type siteFeature struct {
	Geometry *struct {
		Type        string          `json:"type"`
		Coordinates json.RawMessage `json:"coordinates"`
	} `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

// place is the point, or the line's first vertex.
func (f *siteFeature) place() (terrain.Point, error) {
	var line [][]float64
	switch f.Geometry.Type {
	case "Point":
		line = make([][]float64, 1)
		if err := json.Unmarshal(f.Geometry.Coordinates, &line[0]); err != nil {
			return terrain.Point{}, err
		}
	case "LineString":
		if err := json.Unmarshal(f.Geometry.Coordinates, &line); err != nil {
			return terrain.Point{}, err
		}
	default:
		return terrain.Point{}, fmt.Errorf("a %s is neither a point nor a line", f.Geometry.Type)
	}
	if len(line) == 0 || len(line[0]) < 2 {
		return terrain.Point{}, fmt.Errorf("coordinates are missing")
	}
	return terrain.Point{LonDeg: line[0][0], LatDeg: line[0][1]}, nil
}

// siteOf reads one feature, or says why it is not a site.
func siteOf(f *siteFeature) (catalog.Site, string) {
	if f == nil || f.Geometry == nil {
		return catalog.Site{}, "no geometry"
	}
	text := func(key string) string {
		s, _ := f.Properties[key].(string) // values other than text are ignored
		return strings.TrimSpace(s)
	}
	s := catalog.Site{Kind: catalog.SiteKind(text("kind")), Name: text("name"), Side: text("side"), Direction: text("direction"),
		Code: text("code"), Legend: text("legend"), Note: text("note")}
	if s.Kind == "" {
		switch {
		case text("highway") == "escape":
			s.Kind = catalog.EscapeRamp
		case text("traffic_sign") != "":
			s.Kind, s.Code = catalog.SignStands, text("traffic_sign")
		}
	}
	if !slices.Contains(catalog.SiteKinds(), s.Kind) {
		return s, fmt.Sprintf("%q is not a kind of site; use brake-check, escape-ramp, chain-up, pullout or sign", s.Kind)
	}
	if s.Side != "" && s.Side != "left" && s.Side != "right" {
		return s, fmt.Sprintf("side %q is neither left nor right", s.Side)
	}
	if s.Direction != "" && s.Direction != "forward" && s.Direction != "backward" {
		return s, fmt.Sprintf("direction %q is neither forward nor backward", s.Direction)
	}
	var err error
	if s.Point, err = f.place(); err != nil {
		return s, err.Error()
	}
	if !s.Point.Valid() {
		return s, "outside ±180 and ±90 degrees; are longitude and latitude swapped?"
	}
	return s, ""
}

// besideM is the largest distance from a road's line at which a site still serves it.
const besideM = 100

// PlaceSites gives each site the station on every route that it serves: those
// of whose profiles the line passes within 100 m. Side and direction stay as
// given; a side that was not given follows from the point where the direction
// is known. A site near no line is skipped.
func PlaceSites(sites []catalog.Site, profiles map[string][]*routes.Profile) ([]catalog.Site, []routes.Skipped) {
	var names []string
	for name := range profiles {
		names = append(names, name)
	}
	slices.Sort(names)
	var out []catalog.Site
	var skipped []routes.Skipped
	for _, s := range sites {
		found := false
		for _, name := range names {
			if placed, ok := placeOn(s, name, profiles[name]); ok {
				out = append(out, placed)
				found = true
			}
		}
		if !found {
			skipped = append(skipped, routes.Skipped{Where: fmt.Sprintf("site %q at %.5f, %.5f", s.Name, s.Point.LonDeg, s.Point.LatDeg),
				Why: fmt.Sprintf("no surveyed descent's road within %d m", besideM)})
		}
	}
	return out, skipped
}

// placeOn finds the nearest place on one route, which may have several known stretches.
func placeOn(s catalog.Site, route string, list []*routes.Profile) (catalog.Site, bool) {
	best := math.Inf(1)
	for _, p := range list {
		at, _ := signs.Locate([]signs.Standing{{Point: orb.Point{s.Point.LonDeg, s.Point.LatDeg}}}, p, besideM)
		if len(at) == 0 || math.Abs(at[0].OffsetM) >= best {
			continue
		}
		best = math.Abs(at[0].OffsetM)
		station := at[0].StationM
		s.Route, s.StationM = route, &station
		if s.Side == "" && s.Direction != "" {
			s.Side = "right"
			if (at[0].OffsetM > 0) != (s.Direction == "forward") {
				s.Side = "left"
			}
		}
	}
	return s, !math.IsInf(best, 1)
}
