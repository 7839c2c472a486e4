package overlay

import (
	"encoding/json"
	"fmt"

	"gradeline/catalog"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// partProps are a steep part's properties: the keys of the JSON contract, and the vertices'
// heights and stations.
type partProps struct {
	Kind string `json:"kind"` // "steep part"
	routes.SteepPart
	Route        string          `json:"route"`
	Name         string          `json:"name"`
	Invented     bool            `json:"invented"`
	ProvenanceNo int             `json:"provenance_no"`
	ElevationM   json.RawMessage `json:"vertex_elevation_m"`
	StationM     json.RawMessage `json:"vertex_station_m"`
}

// PartID names a steep part outside any descent: its road, direction and first station, which no
// other part shares.
func PartID(p *catalog.SteepPart) string {
	return fmt.Sprintf("steep-part/%s/%s/%.0f", p.Route, p.Direction, p.StartM)
}

// addParts adds steep parts outside any descent.
func (b *overlayBuilder) addParts(parts []catalog.SteepPart) error {
	for i := range parts {
		p := &parts[i]
		l, err := cutLine(PartID(p), p.Line)
		if err != nil {
			return err
		}
		props := partProps{Kind: "steep part", SteepPart: p.SteepPart, Route: p.Route, Name: wording.PartTitle(p), Invented: p.Provenance.Invented, ProvenanceNo: b.provenanceNo(p.Provenance),
			ElevationM: l.figures(func(v catalog.Vertex) float64 { return v.ElevationM }), StationM: l.figures(func(v catalog.Vertex) float64 { return v.StationM })}
		if props.Flags == nil {
			props.Flags = []string{}
		}
		b.add(PartID(p), l.geometry(), props)
		if p.Provenance.Invented {
			b.c.Gradeline.Invented, b.c.Gradeline.Banner = true, wording.InventedBanner
		}
	}
	return nil
}
