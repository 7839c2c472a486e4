package wording

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// Thousands writes a whole number with commas.
func Thousands(x float64) string {
	s := fmt.Sprintf("%.0f", x)
	for i := len(s) - 3; i > 0 && s[i-1] != '-'; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// Unit is the unit of a column's figures: its name, and its size in SI units.
type Unit struct {
	Name     string
	Factor   float64 // how many SI units make one
	Decimals int     // decimals of a figure unless stated otherwise
}

// Figure writes an SI figure in the unit, without its name.
func (u Unit) Figure(x float64, decimals int) string { return FigureText(x/u.Factor, decimals) }

// LengthUnit is the unit of long distances: miles or kilometres.
func LengthUnit(u catalog.Units) Unit {
	if u == catalog.US {
		return Unit{"mi", catalog.MileM, 1}
	}
	return Unit{"km", 1000, 1}
}

// HeightUnit is the unit of heights: feet or metres.
func HeightUnit(u catalog.Units) Unit {
	if u == catalog.US {
		return Unit{"ft", catalog.FootM, 0}
	}
	return Unit{"m", 1, 0}
}

// MassUnit is the unit of masses: pounds or tonnes.
func MassUnit(u catalog.Units) Unit {
	if u == catalog.US {
		return Unit{"lb", catalog.PoundKg, 0}
	}
	return Unit{"t", 1000, 1}
}

// PowerUnit is horsepower or kilowatts.
func PowerUnit(u catalog.Units) Unit {
	if u == catalog.US {
		return Unit{"hp", vehicle.HorsepowerW, 0}
	}
	return Unit{"kW", 1000, 0}
}

// FigureText writes a figure with so many decimals, never as a negative zero; what
// is not finite is "unknown".
func FigureText(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "unknown"
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}
