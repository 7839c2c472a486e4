package terrain

import "fmt"

// VerticalUnit is the unit of a raster's stored heights.
type VerticalUnit uint8

// The vertical units. UnitUnknown is never used to convert.
const (
	UnitUnknown VerticalUnit = iota
	Metre
	Foot         // international foot, exactly 0.3048 m
	USSurveyFoot // exactly 1200/3937 m
)

// MetresPer returns the length of one unit in metres; 0 for UnitUnknown.
// Source: NIST Special Publication 811 (2008), appendix B.6, from memory.
func (u VerticalUnit) MetresPer() float64 {
	switch u {
	case Metre:
		return 1
	case Foot:
		return 0.3048
	case USSurveyFoot:
		return 1200.0 / 3937.0
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
	return UnitUnknown, &Fault{Kind: ErrUnit, What: fmt.Sprintf("%q is no vertical unit", s), Fix: "use m, ft or us-ft"}
}
