package answer

import (
	"context"
	"fmt"
	"io"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/store"
	"gradeline/terrain"
)

// OverlayKinds are the overlays that a catalogue gives.
func OverlayKinds() []string {
	return []string{"descents", "holds", "avoid", "edges", "signs", "sites", "practice"}
}

// IsOverlayOfClass reports whether an overlay is about one weight class.
func IsOverlayOfClass(kind string) bool {
	return slices.Contains([]string{"holds", "avoid", "edges", "practice"}, kind)
}

// OverlayRequest says which overlay is wanted, and for what.
type OverlayRequest struct {
	Kind     string
	File     string            // that it is written to: edges are CSV where its name ends so
	Class    string            // of holds, avoid and practice
	Filter   store.Filter      // of descents
	Steep    *store.SteepParts // with the overlay of descents; nil for those of Filter
	Avoid    overlay.AvoidOptions
	Signs    *SignPlan // for signs
	Practice PracticeOptions
}

// Overlay is one overlay, read and ready to be written.
type Overlay struct {
	write func(io.Writer) error
	gaps  []string
}

// WriteGeoJSON writes the overlay as RFC 7946 GeoJSON, edges as CSV where the request's
// file asks for it.
func (o *Overlay) WriteGeoJSON(w io.Writer) error { return o.write(w) }

// Gaps are the roads with unknown stretches, in words.
func (o *Overlay) Gaps() []string { return o.gaps }

// NewOverlay reads from the catalogue what an overlay shows. A name that the catalogue
// does not know is an *UnknownError.
func NewOverlay(ctx context.Context, cat *store.Catalog, r OverlayRequest) (*Overlay, error) {
	switch r.Kind {
	case "descents", "holds", "avoid":
		return lineOverlay(ctx, cat, r)
	case "edges":
		return edgesOverlay(ctx, cat, r)
	case "signs":
		es, err := Chosen(ctx, cat, r.Filter)
		if err != nil {
			return nil, err
		}
		parts, err := cat.SteepParts(ctx, r.Filter)
		if err != nil {
			return nil, err
		}
		r.Signs.SteepParts = parts.Parts
		a, err := NewSigns(ctx, cat, es, r.Signs)
		if err != nil {
			return nil, err
		}
		return &Overlay{write: a.WriteOverlay}, nil
	case "sites":
		a, err := ListSites(ctx, cat, r.Filter.Route)
		if err != nil {
			return nil, err
		}
		return &Overlay{write: a.WriteOverlay}, nil
	case "practice":
		es, err := Chosen(ctx, cat, r.Filter)
		if err != nil {
			return nil, err
		}
		a, err := NewPractice(ctx, cat, es, r.Practice)
		if err != nil {
			return nil, err
		}
		return &Overlay{write: a.WriteOverlay}, nil
	}
	return nil, &catalog.Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("there is no overlay %q", r.Kind), Fix: fmt.Sprintf("use one of %v", OverlayKinds())}
}

// lineOverlay reads the lines of descents, of holds, or of roads to avoid.
func lineOverlay(ctx context.Context, cat *store.Catalog, r OverlayRequest) (*Overlay, error) {
	if r.Kind != "descents" {
		if err := CheckClass(ctx, cat, r.Class); err != nil {
			return nil, err
		}
		// The overlay is about this class; as a filter it would hide descents that have no answer
		// for it.
		r.Filter.Class = ""
	}
	es, err := Chosen(ctx, cat, r.Filter)
	if err != nil {
		return nil, err
	}
	if r.Kind == "avoid" && r.Avoid.Shape == overlay.AvoidPolygons {
		if r.Avoid.Others, err = RoadLines(ctx, cat); err != nil {
			return nil, err
		}
	}
	gaps, err := RouteGaps(ctx, cat, r.Filter.Route)
	if err != nil {
		return nil, err
	}
	var parts store.SteepParts
	if r.Kind == "descents" {
		if parts, err = steepPartsFor(ctx, cat, r.Filter, r.Steep); err != nil {
			return nil, err
		}
	}
	return &Overlay{gaps: gaps, write: func(w io.Writer) error {
		switch r.Kind {
		case "holds":
			return overlay.HoldsOverlay(w, es, r.Class)
		case "avoid":
			return overlay.AvoidOverlay(w, es, r.Class, r.Avoid)
		}
		return overlay.DescentsOverlay(w, es, parts.Parts...)
	}}, nil
}
