package routes

import "strconv"

// Way is the part of a route that one line of the road data covers.
type Way struct {
	ID       string  `json:"id"` // in the road data: the number of an OpenStreetMap way, else the feature's number
	Reversed bool    `json:"reversed"`
	FromM    float64 `json:"from_m"`
	ToM      float64 `json:"to_m"`
}

// ID is the feature's number in the road data, else its place in its file.
func (f *Feature) ID() string {
	if f.WayID != "" {
		return f.WayID
	}
	return strconv.Itoa(f.Place.Feature)
}

// Turn is a rule of the road data about turning from one way into another. It applies to heavy
// vehicles; the reader leaves out rules that exempt them.
type Turn struct {
	ID       int64   // of the relation
	FromWays []int64 // one, except for "no entry" rules
	ToWays   []int64 // one, except for "no exit" rules
	ViaNode  int64   // 0 where the rule is about ways
	ViaWays  []int64 // in order, between from and to
	IsOnly   bool    // from FromWays only ToWays may be taken; else they may not be taken
	Timed    bool    // at some times only: treated as valid at all times
}

// OSMCredit is the credit that users of OpenStreetMap data must print (openstreetmap.org/copyright).
const OSMCredit = "© OpenStreetMap contributors, ODbL 1.0"

// Extract is a source of a network.
type Extract struct {
	File string
	// AsOf is the date of the data: as stated in the file, else that of the newest way in it; empty
	// if unknown. RFC 3339.
	AsOf      string
	Generator string
	Licence   string // the credit that its users must print; empty if unknown
}
