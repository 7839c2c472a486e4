package signs

import (
	"encoding/json"
	"io"
	"math"
)

// post is a sign's place as an RFC 7946 feature.
type post struct {
	Type     string `json:"type"`
	Geometry struct {
		Type        string     `json:"type"`
		Coordinates [2]float64 `json:"coordinates"`
	} `json:"geometry"`
	Properties map[string]any `json:"properties"`
}

// WritePosts writes the post of every sign whose place is known as RFC 7946 GeoJSON
// points, on the road's line: the side to which it is offset is a property. Signs
// without a place are in the schedule only.
func WritePosts(w io.Writer, schedules []Schedule) error {
	out := struct {
		Type     string `json:"type"`
		Features []post `json:"features"`
	}{"FeatureCollection", []post{}}
	const unit = 1e7 // of a degree: a centimetre
	for _, s := range schedules {
		for _, f := range s.Features() {
			p := post{Type: "Feature", Properties: f.Properties}
			p.Geometry.Type = "Point"
			p.Geometry.Coordinates = [2]float64{math.Round(f.LonDeg*unit) / unit, math.Round(f.LatDeg*unit) / unit}
			out.Features = append(out.Features, p)
		}
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", " ")
	return enc.Encode(out)
}
