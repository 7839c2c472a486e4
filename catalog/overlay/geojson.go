package overlay

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"gradeline/catalog"
	"gradeline/terrain"
)

// appendDegree writes a coordinate with at most seven decimals, about a centimetre; RFC 7946
// section 11.2 calls six enough for most uses.
func appendDegree(b []byte, v float64) []byte { return appendRounded(b, v, 1e7) }

// appendNumber writes a figure to a centimetre; one that is not finite becomes null, since JSON has
// no other value for it.
func appendNumber(b []byte, v float64) []byte {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return append(b, "null"...)
	}
	return appendRounded(b, v, 100)
}

func appendRounded(b []byte, v, k float64) []byte {
	v = math.Round(v*k) / k
	if v == 0 {
		v = 0 // no negative zero
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}

// real is a figure that is written with a decimal point even where it is whole, so that no reader
// treats its column as integers.
type real float64

// MarshalJSON refuses a figure that is not finite, which JSON cannot express.
func (r real) MarshalJSON() ([]byte, error) {
	b, err := json.Marshal(float64(r))
	if err == nil && !bytes.ContainsAny(b, ".eE") {
		b = append(b, ".0"...)
	}
	return b, err
}

// position is a longitude and a latitude in degrees.
type position [2]float64

func (p position) append(b []byte) []byte {
	b = appendDegree(append(b, '['), p[0])
	return append(appendDegree(append(b, ','), p[1]), ']')
}

// appendList writes a JSON array of n items.
func appendList(b []byte, n int, item func(b []byte, i int) []byte) []byte {
	b = append(b, '[')
	for i := range n {
		if i > 0 {
			b = append(b, ',')
		}
		b = item(b, i)
	}
	return append(b, ']')
}

// polygon returns a Polygon of one ring.
func polygon(ring []position) geometry {
	return geometry{"Polygon", appendList(nil, 1, func(b []byte, _ int) []byte {
		return appendList(b, len(ring), func(b []byte, i int) []byte { return ring[i].append(b) })
	})}
}

// collection is an RFC 7946 FeatureCollection with one foreign member.
type collection struct {
	Type      string    `json:"type"`
	Gradeline about     `json:"gradeline"`
	Features  []feature `json:"features"`
}

// about is the foreign member: what the overlay is, its sources and its cautions. A reader that
// ignores it still reads the features correctly.
type about struct {
	Schema     string               `json:"schema"`
	Overlay    string               `json:"overlay"`
	Class      string               `json:"class,omitempty"`
	Invented   bool                 `json:"invented"`
	Banner     string               `json:"banner,omitempty"`
	Cautions   []string             `json:"cautions"`
	Notes      []string             `json:"notes"`
	Provenance []catalog.Provenance `json:"provenance"` // a feature's provenance_no counts from 0 here
}

type feature struct {
	Type       string   `json:"type"`
	ID         string   `json:"id"`
	Geometry   geometry `json:"geometry"`
	Properties any      `json:"properties"`
}

type geometry struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// writeCollection writes c, one feature a line.
func writeCollection(w io.Writer, c collection) error {
	head, err := json.Marshal(c.Gradeline)
	if err != nil {
		return impossible("provenance", err)
	}
	if _, err := fmt.Fprintf(w, "{\"type\":\"FeatureCollection\",\n\"gradeline\":%s,\n\"features\":[", head); err != nil {
		return err
	}
	for i, f := range c.Features {
		f.Type = "Feature"
		b, err := json.Marshal(f)
		if err != nil {
			return impossible(f.ID, err)
		}
		sep := ",\n"
		if i == 0 {
			sep = "\n"
		}
		if _, err := w.Write(append([]byte(sep), b...)); err != nil {
			return err
		}
	}
	_, err = io.WriteString(w, "\n]}\n")
	return err
}

func impossible(id string, err error) error {
	return &catalog.Fault{Kind: catalog.ErrImpossible, Feature: id, What: "holds a figure that JSON cannot express", Err: err,
		Fix: "survey the route again; if the error remains, report it"}
}

// line is a feature's line cut at the antimeridian, with height and station of
// each vertex.
type line [][]catalog.Vertex

// cutLine checks the line of the feature id and cuts it where it crosses the antimeridian
// (RFC 7946 section 3.1.9), with height and station interpolated at the cut.
func cutLine(id string, vs []catalog.Vertex) (line, error) {
	if len(vs) < 2 {
		return nil, &catalog.Fault{Kind: terrain.ErrInput, Feature: id, What: "has no line", Fix: "survey its route again"}
	}
	for i := range vs {
		if !(terrain.Point{LonDeg: vs[i].LonDeg, LatDeg: vs[i].LatDeg}).Valid() {
			return nil, &catalog.Fault{Kind: terrain.ErrInput, Feature: id,
				What: fmt.Sprintf("vertex %d is not a place on Earth", i+1), Fix: "survey its route again"}
		}
	}
	var out line
	part := []catalog.Vertex{vs[0]}
	for _, b := range vs[1:] {
		a := part[len(part)-1]
		switch d := b.LonDeg - a.LonDeg; {
		case math.Abs(d) == 360: // along the antimeridian itself
			b.LonDeg = a.LonDeg
		case math.Abs(d) > 180:
			side := math.Copysign(180, a.LonDeg)
			t := (side - a.LonDeg) / (b.LonDeg + 2*side - a.LonDeg)
			c := catalog.Vertex{
				LonDeg: side, LatDeg: a.LatDeg + t*(b.LatDeg-a.LatDeg),
				ElevationM: a.ElevationM + t*(b.ElevationM-a.ElevationM),
				StationM:   a.StationM + t*(b.StationM-a.StationM),
			}
			if t > 0 {
				part = append(part, c)
			}
			if len(part) > 1 {
				out = append(out, part)
			}
			c.LonDeg = -side
			part = []catalog.Vertex{c}
			if t == 1 {
				continue // b is the cut
			}
		}
		part = append(part, b)
	}
	if len(part) > 1 {
		out = append(out, part)
	}
	return out, nil
}

// geometry returns a LineString, or a MultiLineString where the line was cut.
func (l line) geometry() geometry {
	g := geometry{"LineString", l.list(func(b []byte, v catalog.Vertex) []byte { return position{v.LonDeg, v.LatDeg}.append(b) })}
	if len(l) != 1 {
		g.Type = "MultiLineString"
	}
	return g
}

// figures returns one value of each vertex, nested like the coordinates.
func (l line) figures(of func(catalog.Vertex) float64) json.RawMessage {
	return l.list(func(b []byte, v catalog.Vertex) []byte { return appendNumber(b, of(v)) })
}

func (l line) list(item func(b []byte, v catalog.Vertex) []byte) json.RawMessage {
	part := func(b []byte, i int) []byte {
		return appendList(b, len(l[i]), func(b []byte, k int) []byte { return item(b, l[i][k]) })
	}
	if len(l) == 1 {
		return part(nil, 0)
	}
	return appendList(nil, len(l), part)
}
