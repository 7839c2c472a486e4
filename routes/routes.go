// Package routes is the vocabulary of road lines and of the findings along them:
// features, routes, structures, ground, profiles and descents.
//
// A station is a distance along a route in metres, geodesic on WGS 84, from the line's
// first vertex. Grade is signed per cent, positive rising in the stated direction;
// downgrade is the magnitude of a falling grade.
package routes

import (
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/terrain"
)

// Fault is the place-carrying error of this module; see terrain.Fault.
type Fault = terrain.Fault

// Direction is the direction of travel along a route's line as given.
type Direction uint8

// The two directions of travel.
const (
	Forward Direction = iota
	Backward
)

func (d Direction) String() string {
	if d == Backward {
		return "backward"
	}
	return "forward"
}

// MarshalText writes "forward" or "backward".
func (d Direction) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads "forward" or "backward".
func (d *Direction) UnmarshalText(b []byte) error {
	switch string(b) {
	case "forward":
		*d = Forward
	case "backward":
		*d = Backward
	default:
		return &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a direction", b), Fix: "use forward or backward"}
	}
	return nil
}

// Place is the place in a file where a feature was read.
type Place struct {
	File    string // as the user named it, "-" for standard input
	Feature int    // counted from 1; a part of a multi-part geometry keeps its feature's number
	IsWay   bool   // Feature is the number of an OpenStreetMap way
}

func (p Place) String() string {
	if p.IsWay {
		return fmt.Sprintf("%s, way %d", p.File, p.Feature)
	}
	return fmt.Sprintf("%s, feature %d", p.File, p.Feature)
}

// Feature is one line as read, with its tags as text; see stationing.Assemble
// for how features become routes.
type Feature struct {
	Line       orb.LineString
	Tags       map[string]string
	Structures []Structure // from a structures member, stations along this line
	Place      Place
	WayID      string  // in the road data; empty if it has no numbers of its own
	NodeIDs    []int64 // of each vertex, in data that has them; nil otherwise
}

// StructureKind is the kind of structure that carries the road where the terrain does not.
type StructureKind uint8

// The kinds of structure. OtherStructure is one found from the ground whose kind is not clear.
const (
	Bridge StructureKind = iota
	Tunnel
	OtherStructure
)

func (k StructureKind) String() string {
	switch k {
	case Bridge:
		return "bridge"
	case Tunnel:
		return "tunnel"
	}
	return "structure"
}

// MarshalText writes "bridge", "tunnel" or "structure".
func (k StructureKind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (k *StructureKind) UnmarshalText(b []byte) error {
	for _, v := range []StructureKind{Bridge, Tunnel, OtherStructure} {
		if v.String() == string(b) {
			*k = v
			return nil
		}
	}
	return &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("%q is not a structure kind", b), Fix: "use bridge or tunnel"}
}

// Structure is a stretch of a route on a bridge or in a tunnel. Flagged ones
// come from the road data, the others were found from the ground.
type Structure struct {
	Kind    StructureKind `json:"kind"`
	FromM   float64       `json:"from_m"`
	ToM     float64       `json:"to_m"`
	Flagged bool          `json:"flagged"`
}

// SpeedLimit is a posted limit over a stretch of a route.
type SpeedLimit struct {
	FromM, ToM float64
	SpeedMPS   float64
	Forward    bool // applies to forward travel
	Backward   bool // applies to backward travel
	TruckOnly  bool // from a limit for heavy vehicles
}

// Route is one continuous line with the contents of its tags by station.
type Route struct {
	ID          string // unique within one survey; free of words for people, but for the road's own name
	Title       string // the ID in words, as earlier versions gave it; empty where it is the same
	Name, Ref   string
	Line        orb.LineString // longitude, latitude; no repeated vertices; at least two
	LengthM     float64        // geodesic
	VertexM     []float64      // station of each vertex of Line
	Structures  []Structure    // flagged, by station, not overlapping
	Limits      []SpeedLimit
	OneWay      bool      // travel is allowed in OneWayDir only
	OneWayDir   Direction // meaningful if OneWay
	Incline     []Incline // tagged in the road data; a cross-check only
	Place       Place     // of its first feature
	FeatureSpan int       // how many features were joined
	Ways        []Way     // what the route was made from, by station
}

// Incline is a tagged incline: the steepest part of a stretch, per cent, rising
// along the line positive; Sign is ±1 where only up or down was tagged (GradePct NaN).
type Incline struct {
	FromM, ToM float64
	GradePct   float64
	Sign       int
}

// Skipped is a part of the input that made no route or no descent, with the reason.
type Skipped struct {
	Where string `json:"where"`
	Why   string `json:"why"`

	MissingM float64 `json:"missing_m,omitempty"` // length of a route without any ground
}
