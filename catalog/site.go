package catalog

import (
	"gradeline/routes"
	"gradeline/terrain"
)

// SiteKind is a kind of place next to a road that a descending truck may need.
type SiteKind string

// The kinds of site.
const (
	BrakeCheck SiteKind = "brake-check" // brake check area
	EscapeRamp SiteKind = "escape-ramp"
	ChainUp    SiteKind = "chain-up" // chain-up area
	Pullout    SiteKind = "pullout"
	SignStands SiteKind = "sign" // an existing sign
)

// SiteKinds lists the kinds in order.
func SiteKinds() []SiteKind {
	return []SiteKind{BrakeCheck, EscapeRamp, ChainUp, Pullout, SignStands}
}

// Site is a place next to a road. StationM is nil until it is placed on a route.
// Side and Direction are as seen in the travel that the site serves; empty
// where not known. One place that serves two routes is two sites.
type Site struct {
	ID        string        `json:"id"`
	Kind      SiteKind      `json:"kind"`
	Name      string        `json:"name"`
	Point     terrain.Point `json:"-"`
	Route     string        `json:"route"`
	StationM  *float64      `json:"station_m"`
	Side      string        `json:"side"`      // "left", "right" or ""
	Direction string        `json:"direction"` // "forward", "backward" or "" for both
	Code      string        `json:"code"`      // of a sign
	Legend    string        `json:"legend"`    // of a sign
	Note      string        `json:"note"`
	Source    string        `json:"source"`
}

// Words names the kind for people.
func (k SiteKind) Words() string {
	switch k {
	case BrakeCheck:
		return "brake check area"
	case EscapeRamp:
		return "escape ramp"
	case ChainUp:
		return "chain-up area"
	}
	return string(k)
}

// Serves reports whether the site is placed on a route and is for travel in a direction.
func (s *Site) Serves(d routes.Direction) bool {
	return s.StationM != nil && (s.Direction == "" || s.Direction == d.String())
}
