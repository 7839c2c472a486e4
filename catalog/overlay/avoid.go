package overlay

import (
	"fmt"
	"io"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/terrain"
)

// AvoidShape is the geometry of an avoid overlay: one kind, so that it is one layer in every format.
type AvoidShape uint8

// The shapes. A line closes the direction in which it runs; a polygon closes every road that it
// touches, in both directions.
const (
	AvoidPolygons AvoidShape = iota
	AvoidLines
)

// ParseAvoidShape reads "polygon" or "line". Other text is terrain.ErrInput.
func ParseAvoidShape(text string) (AvoidShape, error) {
	switch text {
	case "polygon":
		return AvoidPolygons, nil
	case "line":
		return AvoidLines, nil
	}
	return AvoidPolygons, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q: use line or polygon", text)}
}

// AvoidOptions are the options of AvoidOverlay.
type AvoidOptions struct {
	Shape  AvoidShape
	WidthM float64 // full width of the polygons; 0 means 10 m
	// Others are lines of roads: no polygon touches one of another route than its own.
	Others []RoadLine
}

// RoadLine is the line of a road by its route.
type RoadLine struct {
	Route string
	Line  []catalog.Vertex
}

// avoidFeature holds a feature's properties: flat, each column of one type. An unknown figure is
// left out.
type avoidFeature struct {
	Descent        string `json:"descent"`
	Class          string `json:"class"`
	Answer         string `json:"answer"` // "NOT HELD" or "unknown"
	Why            string `json:"why"`
	MassKg         *real  `json:"mass_kg,omitempty"`
	HeaviestMassKg *real  `json:"heaviest_mass_kg,omitempty"`
	MissingPowerW  *real  `json:"missing_power_w,omitempty"`
	LimitedBy      string `json:"limited_by"`
	Route          string `json:"route"`
	Name           string `json:"name"`
	Direction      string `json:"direction"`
	Heading        string `json:"heading"`
	StartM         real   `json:"start_m"`
	EndM           real   `json:"end_m"`
	LengthM        real   `json:"length_m"`
	DropM          real   `json:"drop_m"`
	MeanPct        real   `json:"mean_downgrade_pct"`
	MeanErrPct     real   `json:"mean_downgrade_err_pct"`
	Steepest500Pct real   `json:"steepest_500m_pct"`
	Flags          string `json:"flags"` // with ", " between them
	ReviewState    string `json:"review_state"`
	FieldChecked   bool   `json:"field_checked"`
	InQuestion     string `json:"in_question"`
	Invented       bool   `json:"invented"`
	ProvenanceNo   int    `json:"provenance_no"`
	Shape          string `json:"shape"` // "line" or "polygon"
	Part           int    `json:"part"`  // of the polygons, from 1; 0 for a line
	Parts          int    `json:"parts"`
}

// AvoidOverlay writes the descents that a class must avoid: every one that is not held, where that
// is unknown, or whose review is in question. Descents against a one-way road are left out, since
// nobody may drive them. As lines there is one feature for each descent with id
// "descent/class/line", in the direction of travel that it closes. As polygons there are narrow
// ones "descent/class/polygon/1", …, each simple and counter-clockwise, along the line. They end
// short of crest and foot, where other roads may begin, and keep clear of the roads that must stay
// open.
func AvoidOverlay(w io.Writer, es []catalog.Entry, classID string, o AvoidOptions) error {
	if classID == "" {
		return &catalog.Fault{Kind: catalog.ErrClass, What: "no weight class is named", Fix: "name one, as in --class us-5axle"}
	}
	if o.WidthM == 0 {
		o.WidthM = 10
	}
	if !(o.WidthM >= 1 && o.WidthM <= 200) {
		return &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("a polygon %g m wide is not narrow", o.WidthM), Fix: "choose a width from 1 m to 200 m"}
	}
	notes := []string{"Descents that this class does not hold on its retarder alone, and those where that is unknown.",
		"A descent whose review is in question counts as unknown here, regardless of its advice; see its key in_question.",
		"Descents against a one-way road are left out: nobody may drive them."}
	if o.Shape == AvoidLines {
		notes = append(notes, "Each line closes only the direction of travel in which it runs.")
	} else {
		notes = append(notes, "A polygon closes both directions in an engine without directions; the lines (--shape line) close one.",
			"Polygons end short of crest and foot, and keep clear of the other roads in this catalogue; they may touch a road that is not in it.")
	}
	b := newOverlay("avoid", classID, es, notes...)
	for i := range es {
		if err := b.avoid(&es[i], classID, &o); err != nil {
			return err
		}
	}
	return writeCollection(w, b.c)
}

// avoid adds the features of one entry, none where it may be driven.
func (b *overlayBuilder) avoid(e *catalog.Entry, classID string, o *AvoidOptions) error {
	a, h, why := wording.AnswerFor(e, classID)
	if e.Descent.HasFlag(routes.FlagAgainstOneWay) || a == wording.Held && e.Review.InQuestion == "" {
		return nil
	}
	l, d, err := b.descent(e)
	if err != nil {
		return err
	}
	if a == wording.Held {
		a, why = wording.Unknown, "its review is in question: "+wording.Plain(e.Review.InQuestion)
	}
	f := avoidFeature{Descent: d.ID, Class: classID, Answer: a.String(), Why: why, Route: d.Route, Name: d.Name, Direction: d.Direction.String(), Heading: d.Heading,
		StartM: real(d.StartM), EndM: real(d.EndM), LengthM: real(d.LengthM), DropM: real(d.DropM), MeanPct: real(d.MeanDowngradePct), MeanErrPct: real(d.MeanDowngradeErrPct), Steepest500Pct: real(d.Steepest500Pct),
		Flags: strings.Join(d.Flags, ", "), ReviewState: d.ReviewState, FieldChecked: d.FieldChecked, InQuestion: d.InQuestion, Invented: d.Invented, ProvenanceNo: d.ProvenanceNo, Shape: "line"}
	if h != nil {
		f.MassKg, f.HeaviestMassKg, f.MissingPowerW, f.LimitedBy = (*real)(&h.MassKg), (*real)(&h.HeaviestMassKg), (*real)(&h.MissingPowerW), h.LimitedBy
	}
	id := d.ID + "/" + classID
	if o.Shape == AvoidLines {
		b.add(id+"/line", l.geometry(), f)
		return nil
	}
	var rings [][]position
	for k, part := range l {
		rings = append(rings, closingRings(part, d.Route, k == 0, k == len(l)-1, o)...)
	}
	f.Shape, f.Parts = "polygon", len(rings)
	for k, ring := range rings {
		f.Part = k + 1
		b.add(fmt.Sprintf("%s/polygon/%d", id, k+1), polygon(ring), f)
	}
	return nil
}
