package signs

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/terrain"
)

// Standing is an existing sign of an inventory. Codes are its designations, the sign first and its
// plaques after it, without a country prefix; Values are the texts in brackets after each, "" where
// there is none.
type Standing struct {
	Feature int // counted from 1
	Name    string
	Codes   []string
	Values  []string
	Edition string // that its designations are from; "" is the schedule's own
	Grade   string // as the inventory writes them, with or without a unit
	Length  string
	Speed   string
	Side    string            // "right", "left" in travel, or "" if not said
	Facing  *routes.Direction // of the traffic that reads it; nil if not said
	Point   orb.Point
	ID      string  // the inventory's own id of the sign
	Photo   string  // of the photograph that shows it: an id or an address
	ErrM    float64 // 95 % half-width of its station as the inventory has it; 0 if it does not say

	StationM float64 // from Locate
	OffsetM  float64 // from the line, right of forward travel positive; from Locate
}

// Caps of an inventory, checked before anything is allocated from its content.
const (
	maxStandingBytes = 64 << 20
	maxStandingSigns = 200000
	maxStandingCodes = 16
)

type geoJSON struct {
	Type       string                     `json:"type"`
	ID         json.RawMessage            `json:"id"`
	Features   []json.RawMessage          `json:"features"`
	Geometry   *geoJSONGeometry           `json:"geometry"`
	Properties map[string]json.RawMessage `json:"properties"`
}

type geoJSONGeometry struct {
	Type        string          `json:"type"`
	Coordinates json.RawMessage `json:"coordinates"`
}

// ParseStanding reads an inventory of signs: RFC 7946 GeoJSON, a collection, one
// feature or one feature a line. A sign is a point with designation="W7-1a;
// W7-3aP" or an OpenStreetMap traffic_sign="US:W7-1a[6],US:W7-3aP[5]" (also
// traffic_sign:forward and :backward); grade, length, speed, side, direction
// (forward, backward), edition and name are read where given, and so are id, photo and
// accuracy_m, the bound of the sign's own place. What is no sign
// point is skipped with its reason.
//
// Errors: terrain.ErrRead where r fails, terrain.ErrInput for what is no GeoJSON.
func ParseStanding(file string, r io.Reader) ([]Standing, []routes.Skipped, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxStandingBytes+1))
	if err != nil {
		return nil, nil, &Fault{Kind: terrain.ErrRead, File: file, Err: err, Fix: "check the file"}
	}
	bad := func(what, fix string) error {
		return &Fault{Kind: terrain.ErrInput, File: file, What: what, Fix: fix}
	}
	if len(b) > maxStandingBytes {
		return nil, nil, bad("more than 64 MB", "reduce the inventory to the roads of the catalogue")
	}
	var out []Standing
	var skipped []routes.Skipped
	n := 0
	one := func(raw json.RawMessage) error {
		n++
		if n > maxStandingSigns {
			return bad(fmt.Sprintf("more than %d features", maxStandingSigns), "reduce the inventory to the roads of the catalogue")
		}
		signs, why := standingFrom(raw, n)
		if why != "" {
			skipped = append(skipped, routes.Skipped{Where: fmt.Sprintf("%s, feature %d", file, n), Why: why})
		}
		out = append(out, signs...)
		return nil
	}
	dec := json.NewDecoder(bytes.NewReader(b))
	for docs := 0; ; docs++ {
		var raw json.RawMessage
		if err := dec.Decode(&raw); errors.Is(err, io.EOF) {
			if docs == 0 {
				return nil, nil, bad("empty", "give GeoJSON points")
			}
			return out, skipped, nil
		} else if err != nil {
			return nil, nil, &Fault{Kind: terrain.ErrInput, File: file, Err: err, What: "not GeoJSON", Fix: "give RFC 7946 GeoJSON points"}
		}
		var g geoJSON
		if err := json.Unmarshal(raw, &g); err != nil || g.Type != "FeatureCollection" && g.Type != "Feature" {
			return nil, nil, bad("neither a FeatureCollection nor a Feature", "give RFC 7946 GeoJSON points")
		}
		list := g.Features
		if g.Type == "Feature" {
			list = []json.RawMessage{raw}
		}
		for _, f := range list {
			if err := one(f); err != nil {
				return nil, nil, err
			}
		}
	}
}

// standingFrom reads one feature: its signs, one for each direction that it is
// tagged for, or why there is none.
func standingFrom(raw json.RawMessage, n int) ([]Standing, string) {
	g, xy, why := pointFrom(raw)
	if why != "" {
		return nil, why
	}
	base := standingBase(g, n, orb.Point{xy[0], xy[1]})
	var out []Standing
	for _, key := range []string{"designation", "traffic_sign", "traffic_sign:forward", "traffic_sign:backward"} {
		text := property(g, key)
		if text == "" || key == "traffic_sign" && len(out) > 0 {
			continue
		}
		s := base
		s.Codes, s.Values = splitCodes(text)
		if _, way, ok := strings.Cut(key, ":"); ok {
			d := facingWords[way]
			s.Facing = &d
		}
		if len(s.Codes) > 0 {
			out = append(out, s)
		}
	}
	if len(out) == 0 {
		return nil, "no designation and no traffic_sign"
	}
	return out, ""
}

// facingWords are the directions as inventories write them.
var facingWords = map[string]routes.Direction{"forward": routes.Forward, "backward": routes.Backward}

// standingBase holds a feature's data on its signs, except their designations.
func standingBase(g geoJSON, n int, at orb.Point) Standing {
	base := Standing{Feature: n, Name: property(g, "name"), Edition: property(g, "edition"), Grade: property(g, "grade"), Length: property(g, "length"),
		Speed: property(g, "speed"), Point: at, ID: firstProperty(g, "id", "sign_id", "asset_id"),
		Photo: firstProperty(g, "photo", "photo_id", "image", "mapillary")}
	if base.ID == "" {
		base.ID = textOf(g.ID)
	}
	if v, ok := plain(strings.TrimSuffix(strings.ReplaceAll(firstProperty(g, "station_err_m", "accuracy_m"), " ", ""), "m")); ok && v > 0 && v < 1000 {
		base.ErrM = v
	}
	if s := strings.ToLower(property(g, "side")); s == "right" || s == "left" {
		base.Side = s
	}
	if d, ok := facingWords[property(g, "direction")]; ok {
		base.Facing = &d
	}
	return base
}

// pointFrom reads a feature with a point and its longitude and latitude, or says why it
// is none.
func pointFrom(raw json.RawMessage) (g geoJSON, xy []float64, why string) {
	if err := json.Unmarshal(raw, &g); err != nil || g.Type != "Feature" {
		return g, nil, "not a GeoJSON feature"
	}
	if g.Geometry == nil || g.Geometry.Type != "Point" {
		return g, nil, "not a point"
	}
	if err := json.Unmarshal(g.Geometry.Coordinates, &xy); err != nil || len(xy) < 2 || !(terrain.Point{LonDeg: xy[0], LatDeg: xy[1]}).Valid() {
		return g, nil, "its coordinates are not a longitude and latitude"
	}
	return g, xy, ""
}

// property returns a property as text; numbers as they are written.
func property(g geoJSON, key string) string {
	return textOf(g.Properties[key])
}

// firstProperty is the first of some properties that is there.
func firstProperty(g geoJSON, keys ...string) string {
	for _, k := range keys {
		if v := property(g, k); v != "" {
			return v
		}
	}
	return ""
}

// textOf gives a JSON string or number as text; "" for anything else.
func textOf(raw json.RawMessage) string {
	if len(raw) == 0 {
		return ""
	}
	var s string
	if json.Unmarshal(raw, &s) == nil {
		return strings.TrimSpace(s)
	}
	var num json.Number
	if json.Unmarshal(raw, &num) == nil {
		return num.String()
	}
	return ""
}

// splitCodes reads "US:W7-1a[6%],W7-3aP[5]" into codes and values. Commas and
// semicolons inside brackets belong to the value.
func splitCodes(text string) (codes, values []string) {
	depth, start := 0, 0
	take := func(part string) {
		code, value, has := strings.Cut(strings.TrimSpace(part), "[")
		if has {
			value, _, _ = strings.Cut(value, "]")
		}
		if i := strings.Index(code, ":"); i == 2 { // a country prefix
			code = code[3:]
		}
		if code = strings.TrimSpace(code); code != "" && len(codes) < maxStandingCodes {
			codes, values = append(codes, code), append(values, strings.TrimSpace(value))
		}
	}
	for i, r := range text {
		switch {
		case r == '[':
			depth++
		case r == ']' && depth > 0:
			depth--
		case (r == ',' || r == ';') && depth == 0:
			take(text[start:i])
			start = i + 1
		}
	}
	take(text[start:])
	return codes, values
}

// Locate gives each sign its station on the profile's line, the nearest place of
// it, and its offset; those further than maxOffsetM from the line are skipped.
func Locate(standing []Standing, p *routes.Profile, maxOffsetM float64) ([]Standing, []routes.Skipped) {
	var out []Standing
	var skipped []routes.Skipped
	latSpan := (maxOffsetM + p.StepM) / 110000 // degrees, generous
	for _, s := range standing {
		best := math.Inf(1)
		for i := 0; i+1 < len(p.Points); i++ {
			if math.Abs(p.Points[i][1]-s.Point[1]) > latSpan {
				continue
			}
			a, b := planM(s.Point, p.Points[i]), planM(s.Point, p.Points[i+1])
			dx, dy := b[0]-a[0], b[1]-a[1]
			f := 0.0
			if l := dx*dx + dy*dy; l > 0 {
				f = math.Max(0, math.Min(1, -(a[0]*dx+a[1]*dy)/l))
			}
			x, y := a[0]+f*dx, a[1]+f*dy
			if d := math.Hypot(x, y); d < best {
				best = d
				s.StationM = math.Min(p.OriginM+(float64(i)+f)*p.StepM, p.LengthM)
				s.OffsetM = math.Copysign(d, -(dx*(-y) - dy*(-x))) // the sign is at the origin
			}
		}
		if best > maxOffsetM {
			skipped = append(skipped, routes.Skipped{Where: s.where(), Why: fmt.Sprintf("further than %.0f m from the line", maxOffsetM)})
			continue
		}
		out = append(out, s)
	}
	return out, skipped
}

// label is where, with the inventory's own id of the sign.
func (s *Standing) label() string {
	if s.ID != "" {
		return s.where() + ", id " + s.ID
	}
	return s.where()
}

func (s *Standing) where() string {
	if s.Name != "" {
		return fmt.Sprintf("standing sign %d (%s)", s.Feature, s.Name)
	}
	return fmt.Sprintf("standing sign %d", s.Feature)
}
