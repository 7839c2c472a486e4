package signs

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Milepost ties a station of the route to the value on a milepost or kilometre post.
type Milepost struct {
	StationM float64
	Reads    float64 // miles, or kilometres in metric rule sets
}

// ParseMilepost reads "STATION=VALUE", as in 12.4mi=231.5.
func ParseMilepost(text string) (Milepost, error) {
	bad := func(what string) (Milepost, error) {
		return Milepost{}, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("milepost %q: %s", text, what), Fix: "write STATION=VALUE, as in 12.4mi=231.5"}
	}
	station, value, ok := strings.Cut(text, "=")
	if !ok {
		return bad("no equals sign")
	}
	stationM := 0.0
	if s := strings.TrimSpace(station); strings.TrimLeft(s, "0.") != "" && s != "0m" && s != "0ft" && s != "0mi" && s != "0km" {
		var err error
		if stationM, err = catalog.LengthM(s); err != nil {
			return bad(err.Error())
		}
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
	if err != nil || math.IsNaN(v) || math.Abs(v) > 1e5 {
		return bad(fmt.Sprintf("%q is not a milepost value", value))
	}
	return Milepost{stationM, v}, nil
}

// MilepostScale converts stations to mileposts. The zero value has none.
type MilepostScale struct {
	known []Milepost
	perM  float64 // values a metre where only one milepost is known
}

// NewMilepostScale orders the known mileposts. A single one is assumed to rise with the stations by
// one for each mile or kilometre. Between two the scale is linear, and beyond them it continues as
// between the two nearest.
//
// Error: terrain.ErrInput where two share a station or the values turn back.
func NewMilepostScale(known []Milepost, legendUnits string) (MilepostScale, error) {
	s := MilepostScale{known: slices.Clone(known), perM: 1 / catalog.MileM}
	if legendUnits == "metric" {
		s.perM = 1e-3
	}
	slices.SortFunc(s.known, func(a, b Milepost) int {
		if a.StationM < b.StationM {
			return -1
		}
		return 1
	})
	for i := 1; i < len(s.known); i++ {
		a, b := s.known[i-1], s.known[i]
		rises := s.known[len(s.known)-1].Reads > s.known[0].Reads
		if b.StationM-a.StationM < 1 || rises != (b.Reads > a.Reads) || a.Reads == b.Reads {
			return MilepostScale{}, &Fault{Kind: terrain.ErrInput, What: fmt.Sprintf("mileposts %g and %g at stations %.0f m and %.0f m are not in one order", a.Reads, b.Reads, a.StationM, b.StationM),
				Fix: "use mileposts whose values only rise or only fall along the stations"}
		}
	}
	return s, nil
}

// IsKnown reports whether there is any milepost to read from.
func (s MilepostScale) IsKnown() bool { return len(s.known) > 0 }

// Value is the milepost at a station; NaN where none is known.
func (s MilepostScale) Value(stationM float64) float64 {
	n := len(s.known)
	switch n {
	case 0:
		return math.NaN()
	case 1:
		return s.known[0].Reads + (stationM-s.known[0].StationM)*s.perM
	}
	i := 1
	for i < n-1 && stationM > s.known[i].StationM {
		i++
	}
	a, b := s.known[i-1], s.known[i]
	return a.Reads + (b.Reads-a.Reads)*(stationM-a.StationM)/(b.StationM-a.StationM)
}

// Words writes the milepost at a station to two decimals; "" where none is known.
func (s MilepostScale) Words(stationM float64) string {
	if v := s.Value(stationM); !math.IsNaN(v) {
		return fmt.Sprintf("%.2f", v+0)
	}
	return ""
}
