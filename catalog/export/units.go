package export

import (
	"math"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// unit is what a column's figures are counted in: its name and size in SI.
type unit struct {
	name     string
	si       float64
	decimals int // that a figure of it is worth where nothing else is said
}

// num gives an SI figure in the unit.
func (u unit) num(si float64, decimals int) Num { return Num{si / u.si, decimals} }

// down gives an SI figure in the unit, rounded down: a mass that still holds is
// never rounded up.
func (u unit) down(si float64) Num {
	k := math.Pow(10, float64(u.decimals))
	return Num{math.Floor(si/u.si*k+1e-6) / k, u.decimals}
}

func lengthUnit(u catalog.Units) unit {
	if u == catalog.US {
		return unit{"mi", catalog.MileM, 1}
	}
	return unit{"km", 1000, 1}
}

func heightUnit(u catalog.Units) unit {
	if u == catalog.US {
		return unit{"ft", catalog.FootM, 0}
	}
	return unit{"m", 1, 0}
}

func massUnit(u catalog.Units) unit {
	if u == catalog.US {
		return unit{"lb", catalog.PoundKg, 0}
	}
	return unit{"t", 1000, 1}
}

// powerUnit is horsepower or kilowatts.
func powerUnit(u catalog.Units) unit {
	if u == catalog.US {
		return unit{"hp", vehicle.HorsepowerW, 0}
	}
	return unit{"kW", 1000, 0}
}

func radiusCell(radiusM *float64, u unit) any {
	if radiusM == nil {
		return "over " + numText(u.num(5000, 0))
	}
	return u.num(*radiusM, 0)
}

// Radius writes a curve's radius rounded down to 10 m or 50 ft, which is as much
// as a line on a map is worth and errs to the slow side.
func Radius(radiusM float64, u catalog.Units) string {
	if u == catalog.US {
		return u.Height(math.Floor(catalog.FtFromM(radiusM)/50) * 50 * catalog.FootM)
	}
	return u.Height(math.Floor(radiusM/10) * 10)
}

func numText(n Num) string { s, _ := cell(n); return s }

func reviewState(e *catalog.Entry) string {
	if e.Review.State == "" {
		return string(catalog.Surveyed)
	}
	return string(e.Review.State)
}

func dateCell(e *catalog.Entry) any {
	if e.Review.At.IsZero() {
		return "none"
	}
	return e.Review.At.Format("2006-01-02")
}

// orNone says "none" for what is known to be empty.
func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
