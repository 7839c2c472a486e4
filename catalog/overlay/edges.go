package overlay

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
)

// Edge is a piece of a way of the road data in one direction of travel, with the advice for a
// class. FromM and ToM are along the way as drawn, from its first vertex.
type Edge struct {
	WayID          string
	IsReversed     bool // travelled against the direction of drawing
	FromM, ToM     float64
	Held           *bool    // nil: not known
	HeaviestMassKg *float64 // nil where no hill limits it, or it is not known
	TopSpeedMPS    *float64 // nil as for the mass
	SurfacesOut    []string
	Why            string // why it is not held or not known
	Route          string
	Line           orb.LineString // in travel
}

// edgeFeature is flat, each column of one type. A figure that is not known is left out.
type edgeFeature struct {
	WayID          string `json:"way_id"`
	IsReversed     bool   `json:"reversed"`
	FromM          real   `json:"from_m"`
	ToM            real   `json:"to_m"`
	Held           *bool  `json:"held"`
	HeaviestMassKg *real  `json:"heaviest_mass_kg,omitempty"`
	TopSpeedMPS    *real  `json:"top_speed_mps,omitempty"`
	SurfacesOut    string `json:"surfaces_excluded"` // with ", " between them
	Why            string `json:"why"`
	Route          string `json:"route"`
	Class          string `json:"class"`
}

// EdgesOptions name the class and the sources of the roads.
type EdgesOptions struct {
	Class   string
	Sources []string // of the roads, with the credits that their licences require
	IsDemo  bool
}

// EdgesOverlay writes the edges as RFC 7946 GeoJSON.
func EdgesOverlay(w io.Writer, edges []Edge, o EdgesOptions) error {
	b := newOverlay("edges", o.Class, nil, append([]string{
		"Each line runs in its direction of travel; from_m and to_m are along the way as drawn, from its first vertex.",
		"held null means unknown, and is not a permission. A figure that is left out is not limited by a hill, or not known.",
		"A hill that continues across a junction closes the road on which it begins."}, o.Sources...)...)
	if o.IsDemo {
		b.c.Gradeline.Invented = true
	}
	for i := range edges {
		e := &edges[i]
		f := edgeFeature{WayID: e.WayID, IsReversed: e.IsReversed, FromM: real(e.FromM), ToM: real(e.ToM), Held: e.Held, HeaviestMassKg: (*real)(e.HeaviestMassKg),
			TopSpeedMPS: (*real)(e.TopSpeedMPS), SurfacesOut: strings.Join(e.SurfacesOut, ", "), Why: e.Why, Route: e.Route, Class: o.Class}
		b.add(strconv.Itoa(i+1), geometry{"LineString", appendList(nil, len(e.Line), func(b []byte, k int) []byte { return position(e.Line[k]).append(b) })}, f)
	}
	return writeCollection(w, b.c)
}

// EdgesCSV writes the edges as CSV (RFC 4180): held is true, false or unknown, a figure
// that is not limited or not known is empty. Cautions and sources follow after an empty
// record, in the first field.
func EdgesCSV(w io.Writer, edges []Edge, o EdgesOptions) error {
	c := csv.NewWriter(w)
	head := []string{"way_id", "reversed", "from_m", "to_m", "held", "heaviest_mass_kg", "top_speed_mps", "surfaces_excluded", "why", "route", "class"}
	_ = c.Write(head) // the writer keeps the error, see c.Error below
	figure := func(v *float64) string {
		if v == nil {
			return ""
		}
		return strconv.FormatFloat(*v, 'f', 2, 64)
	}
	for i := range edges {
		e := &edges[i]
		held := "unknown"
		if e.Held != nil {
			held = strconv.FormatBool(*e.Held)
		}
		_ = c.Write([]string{e.WayID, strconv.FormatBool(e.IsReversed), figure(&e.FromM), figure(&e.ToM), held, figure(e.HeaviestMassKg), figure(e.TopSpeedMPS), strings.Join(e.SurfacesOut, ", "), e.Why, e.Route, o.Class})
	}
	_ = c.Write(make([]string, len(head)))
	for _, words := range append(catalog.Cautions(), o.Sources...) {
		record := make([]string, len(head))
		record[0] = words
		_ = c.Write(record)
	}
	c.Flush()
	return c.Error()
}
