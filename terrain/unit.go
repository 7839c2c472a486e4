package terrain

import "fmt"

// Lengths of the feet that heights are given in, exact by definition (NIST Special
// Publication 811 (2008), appendix B.6, from memory).
const (
	FootM         = 0.3048          // international foot
	USSurveyFootM = 1200.0 / 3937.0 // US survey foot
)

// VerticalUnit is the unit of a raster's stored heights.
type VerticalUnit uint8

// The vertical units. UnitUnknown is never used to convert.
const (
	UnitUnknown VerticalUnit = iota
	Metre
	Foot         // international foot
	USSurveyFoot // abolished in 2022, still in older rasters
)

// MetresPer returns the length of one unit in metres; 0 for UnitUnknown.
func (u VerticalUnit) MetresPer() float64 {
	switch u {
	case Metre:
		return 1
	case Foot:
		return FootM
	case USSurveyFoot:
		return USSurveyFootM
	}
	return 0
}

func (u VerticalUnit) String() string {
	switch u {
	case Metre:
		return "m"
	case Foot:
		return "ft"
	case USSurveyFoot:
		return "us-ft"
	}
	return "unknown"
}

// ParseVerticalUnit reads "m", "ft" or "us-ft"; anything else is a fault.
func ParseVerticalUnit(s string) (VerticalUnit, error) {
	for _, u := range []VerticalUnit{Metre, Foot, USSurveyFoot} {
		if s == u.String() {
			return u, nil
		}
	}
	return UnitUnknown, &Fault{Kind: ErrUnit, What: fmt.Sprintf("%q is not a vertical unit", s), Fix: "use m, ft or us-ft"}
}
