package synth

import (
	"bytes"
	"encoding/json"
	"math"
	"strconv"
)

// Form is the way in which a road's tagged structures are written.
type Form uint8

// The two forms of road lines.
const (
	Split  Form = iota // the line is cut at structures, each piece with its own tags
	Listed             // one line with a structures member of stations
)

// coordDecimals of a degree: 1.1 mm.
const coordDecimals = 8

// GeoJSON writes roads as an RFC 7946 feature collection. Each feature carries the
// road's tags, name and ref, and "invented": true; pieces of one road share a route
// property. Only tagged structures are written.
func GeoJSON(roads []*Road, form Form) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("{\"type\":\"FeatureCollection\",\"features\":[\n")
	for i, r := range roads {
		if i > 0 {
			b.WriteString(",\n")
		}
		if err := r.writeFeatures(&b, form); err != nil {
			return nil, err
		}
	}
	b.WriteString("\n]}\n")
	return b.Bytes(), nil
}

type listed struct {
	Kind  string  `json:"kind"`
	FromM float64 `json:"from_m"`
	ToM   float64 `json:"to_m"`
}

func (r *Road) writeFeatures(b *bytes.Buffer, form Form) error {
	var list []listed
	for _, s := range r.Structures {
		if s.Flagged && s.FlagToM > s.FlagFromM {
			list = append(list, listed{s.Kind, math.Round(s.FlagFromM*100) / 100, math.Round(s.FlagToM*100) / 100})
		}
	}
	if form == Listed {
		return r.writeFeature(b, 0, r.LengthM, "", list)
	}
	at := 0.0
	for _, s := range list {
		if s.FromM > at {
			if err := r.writeFeature(b, at, s.FromM, "", nil); err != nil {
				return err
			}
			b.WriteString(",\n")
		}
		if err := r.writeFeature(b, s.FromM, s.ToM, s.Kind, nil); err != nil {
			return err
		}
		b.WriteString(",\n")
		at = s.ToM
	}
	return r.writeFeature(b, at, r.LengthM, "", nil)
}

func (r *Road) writeFeature(b *bytes.Buffer, fromM, toM float64, kind string, list []listed) error {
	props := map[string]any{"name": r.Name, "route": r.Name, "invented": true}
	if r.Ref != "" {
		props["ref"] = r.Ref
	}
	for k, v := range r.Tags {
		props[k] = v
	}
	if kind != "" {
		props[kind] = "yes"
		layer := "1"
		if kind == "tunnel" {
			layer = "-1"
		}
		props["layer"] = layer
	}
	if len(list) > 0 {
		props["structures"] = list
	}
	p, err := json.Marshal(props) // keys sorted
	if err != nil {
		return err
	}
	b.WriteString(`{"type":"Feature","properties":`)
	b.Write(p)
	b.WriteString(`,"geometry":{"type":"LineString","coordinates":[`)
	r.writeVertex(b, fromM)
	for i, m := range r.lineM {
		if m > fromM+0.01 && m < toM-0.01 {
			b.WriteByte(',')
			r.writeLonLat(b, r.lineX[i], r.lineY[i])
		}
	}
	b.WriteByte(',')
	r.writeVertex(b, toM)
	b.WriteString("]}}")
	return nil
}

func (r *Road) writeVertex(b *bytes.Buffer, stationM float64) {
	r.writeLonLat(b, interp(r.lineM, r.lineX, stationM), interp(r.lineM, r.lineY, stationM))
}

func (r *Road) writeLonLat(b *bytes.Buffer, x, y float64) {
	lon, lat := r.proj.lonLatFromXY(x, y)
	b.WriteByte('[')
	b.WriteString(strconv.FormatFloat(lon, 'f', coordDecimals, 64))
	b.WriteByte(',')
	b.WriteString(strconv.FormatFloat(lat, 'f', coordDecimals, 64))
	b.WriteByte(']')
}
