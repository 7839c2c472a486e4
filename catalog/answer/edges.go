package answer

import (
	"context"
	"io"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/catalog"
	"gradeline/catalog/overlay"
	"gradeline/catalog/store"
	"gradeline/catalog/wording"
	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
)

// aroundM is the distance beyond its ends in which a hill limits a road: demand is a mean over 100 m.
const aroundM = 100.0

// edgesOverlay is every piece of way of the catalogue's network for one class.
func edgesOverlay(ctx context.Context, cat *store.Catalog, r OverlayRequest) (*Overlay, error) {
	n, err := cat.Network(ctx)
	if err != nil {
		return nil, err
	}
	if len(n.Roads) == 0 {
		return nil, &catalog.Fault{Kind: catalog.ErrNotFound, File: cat.Path(), What: "the catalogue has no road network", Fix: "survey an extract, or lines that name no route, without --as-drawn"}
	}
	es, err := cat.Descents(ctx, store.Filter{})
	if err != nil {
		return nil, err
	}
	if len(es) > 0 { // without a descent no class has an answer
		if err := CheckClass(ctx, cat, r.Class); err != nil {
			return nil, err
		}
	}
	byRoute := map[string][]catalog.Entry{}
	for i := range es {
		byRoute[es[i].Descent.Route] = append(byRoute[es[i].Descent.Route], es[i])
	}
	o := overlay.EdgesOptions{Class: r.Class, IsDemo: wording.AnyInvented(es)}
	for _, s := range n.Sources {
		for _, x := range sourcesOf(&network.Summary{Extracts: s.Extracts}) {
			o.Sources = append(o.Sources, sourceWords(&x))
		}
	}
	var edges []overlay.Edge
	for i := range n.Roads {
		more, err := edgesOfRoad(&n.Roads[i], byRoute[n.Roads[i].ID], r.Class)
		if err != nil {
			return nil, err
		}
		edges = append(edges, more...)
	}
	gaps, err := RouteGaps(ctx, cat, "")
	if err != nil {
		return nil, err
	}
	return &Overlay{gaps: gaps, write: func(w io.Writer) error {
		if strings.EqualFold(filepath.Ext(r.File), ".csv") {
			return overlay.EdgesCSV(w, edges, o)
		}
		return overlay.EdgesOverlay(w, edges, o)
	}}, nil
}

// edgesOfRoad splits a road's ways where a hill or unknown ground begins or ends.
func edgesOfRoad(r *store.NetworkRoad, es []catalog.Entry, class string) ([]overlay.Edge, error) {
	p, err := r.Profile()
	if err != nil {
		return nil, err
	}
	unknownWhy := "too short a road to be surveyed on its own"
	unknown := [][2]float64{{0, r.LengthM}}
	if p != nil {
		unknown, unknownWhy = doubtsOf(p), "its ground is not known or its grade line can't be relied on"
	} else if r.IsSurveyed {
		unknownWhy = "no grade line is known"
	}
	var out []overlay.Edge
	for i := range r.Lines {
		l := &r.Lines[i]
		if l.IsArc {
			continue // the roundabout is a road of its own
		}
		for _, dir := range []routes.Direction{routes.Forward, routes.Backward} {
			isReversed := l.IsReversed != (dir == routes.Backward)
			if !network.IsTravelled(l.Tags, isReversed) {
				continue
			}
			cuts := cutsOf(l.FromM, l.ToM, es, dir, unknown)
			for k := 1; k < len(cuts); k++ {
				e := edgeOver(cuts[k-1], cuts[k], es, dir, class, unknown, unknownWhy)
				e.WayID, e.IsReversed, e.Route = l.ID(), isReversed, r.ID
				e.FromM, e.ToM = cuts[k-1]-l.FromM, cuts[k]-l.FromM
				if l.IsReversed {
					e.FromM, e.ToM = l.ToM-cuts[k], l.ToM-cuts[k-1]
				}
				e.Line = partOfLine(l.Line, e.FromM, e.ToM)
				if isReversed {
					e.Line.Reverse()
				}
				out = append(out, e)
			}
		}
	}
	return out, nil
}

// reach is where a descent limits its road: between its outer ends and 100 m beyond.
func reach(d *routes.Descent) (lo, hi float64) {
	lo, hi = math.Min(d.StartM, d.EndM), math.Max(d.StartM, d.EndM)
	if d.StartOuterM != 0 || d.EndOuterM != 0 {
		lo, hi = math.Min(lo, math.Min(d.StartOuterM, d.EndOuterM)), math.Max(hi, math.Max(d.StartOuterM, d.EndOuterM))
	}
	return lo - aroundM, hi + aroundM
}

// cutsOf are the stations of a way's pieces, ascending.
func cutsOf(fromM, toM float64, es []catalog.Entry, dir routes.Direction, unknown [][2]float64) []float64 {
	cuts := []float64{fromM, toM}
	add := func(list ...float64) {
		for _, s := range list {
			if s > fromM+1 && s < toM-1 {
				cuts = append(cuts, s)
			}
		}
	}
	for i := range es {
		if es[i].Descent.Direction == dir {
			add(reach(&es[i].Descent))
		}
	}
	for _, u := range unknown {
		add(u[0], u[1])
	}
	slices.Sort(cuts)
	return slices.Compact(cuts)
}

// edgeOver is the result for a class between two stations of a road in a direction.
func edgeOver(fromM, toM float64, es []catalog.Entry, dir routes.Direction, class string, unknown [][2]float64, unknownWhy string) overlay.Edge {
	m := edgeMeets{isHeld: true, isKnown: true}
	for _, u := range unknown {
		if u[0] < toM && u[1] > fromM {
			m.isKnown, m.edge.Why = false, unknownWhy
		}
	}
	midM := (fromM + toM) / 2
	for i := range es {
		if lo, hi := reach(&es[i].Descent); es[i].Descent.Direction == dir && midM >= lo && midM <= hi {
			m.add(&es[i], class)
		}
	}
	switch {
	case !m.isHeld:
		m.edge.Held, m.edge.TopSpeedMPS = &m.isHeld, nil
	case m.isKnown:
		m.edge.Held = &m.isHeld
	default:
		m.edge.HeaviestMassKg, m.edge.TopSpeedMPS = nil, nil // a figure would read as a permission
	}
	return m.edge
}

// edgeMeets collects the hills that limit an edge.
type edgeMeets struct {
	edge            overlay.Edge
	isHeld, isKnown bool
}

// add includes a hill.
func (m *edgeMeets) add(x *catalog.Entry, class string) {
	a, h, why := wording.AnswerFor(x, class)
	if a == wording.Held && x.Review.InQuestion != "" {
		a, why = wording.Unknown, "its review is in question"
	}
	switch a {
	case wording.NotHeld:
		m.isHeld, m.edge.Why = false, x.Descent.ID+" is not held"
	case wording.Unknown:
		if m.isKnown = false; m.edge.Why == "" {
			m.edge.Why = x.Descent.ID + ": " + why
		}
	}
	if h == nil || a == wording.Unknown {
		return
	}
	m.edge.HeaviestMassKg = lesser(m.edge.HeaviestMassKg, h.HeaviestMassKg)
	if a == wording.Held {
		m.edge.TopSpeedMPS = lesser(m.edge.TopSpeedMPS, h.SpeedMPS)
	}
	for _, s := range h.SurfacesOut {
		if !slices.Contains(m.edge.SurfacesOut, s) {
			m.edge.SurfacesOut = append(m.edge.SurfacesOut, s)
		}
	}
}

func lesser(a *float64, b float64) *float64 {
	if a == nil || b < *a {
		return &b
	}
	return a
}

// partOfLine is a line between two stations along it.
func partOfLine(line orb.LineString, fromM, toM float64) orb.LineString {
	var out orb.LineString
	doneM := 0.0
	for i := 1; i < len(line); i++ {
		stepM := stationing.DistanceM(line[i-1], line[i])
		at := func(m float64) orb.Point {
			f := math.Max(0, math.Min(1, (m-doneM)/math.Max(stepM, 1e-9)))
			return orb.Point{line[i-1][0] + f*(line[i][0]-line[i-1][0]), line[i-1][1] + f*(line[i][1]-line[i-1][1])}
		}
		isLast := i == len(line)-1
		if doneM+stepM > fromM && doneM < toM || isLast && len(out) == 0 {
			if len(out) == 0 {
				out = append(out, at(fromM))
			}
			out = append(out, at(math.Min(toM, doneM+stepM)))
		}
		doneM += stepM
	}
	return out
}
