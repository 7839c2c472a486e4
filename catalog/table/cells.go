package table

import (
	"math"
	"strconv"

	"gradeline/catalog"
	"gradeline/catalog/wording"
)

// Num is a figure with its number of decimals. NaN and infinite figures are written as "unknown".
type Num struct {
	V        float64
	Decimals int
}

// cell returns a cell as text, and whether it is a figure.
func cell(v any) (s string, isFigure bool) {
	switch v := v.(type) {
	case string:
		return wording.Plain(v), false
	case int:
		return strconv.Itoa(v), true
	case Num:
		return wording.FigureText(v.V, v.Decimals), !isUnknown(v)
	case bool:
		if v {
			return "yes", false
		}
		return "no", false
	}
	return "unknown", false
}

// num returns an SI figure in a column's unit.
func num(u wording.Unit, si float64, decimals int) Num { return Num{si / u.Factor, decimals} }

// down returns an SI figure in a column's unit, rounded down: a mass that still holds is never
// rounded up.
func down(u wording.Unit, si float64) Num {
	k := math.Pow(10, float64(u.Decimals))
	return Num{math.Floor(si/u.Factor*k+1e-6) / k, u.Decimals}
}

func isUnknown(n Num) bool { return math.IsNaN(n.V) || math.IsInf(n.V, 0) }

func radiusCell(radiusM *float64, u wording.Unit) any {
	if radiusM == nil {
		return "over " + u.Figure(5000, 0)
	}
	return num(u, *radiusM, 0)
}

func dateCell(e *catalog.Entry) any {
	if e.Review.At.IsZero() {
		return "none"
	}
	return e.Review.At.Format("2006-01-02")
}

// orNone is "none" for a list that is known to be empty.
func orNone(s string) string {
	if s == "" {
		return "none"
	}
	return s
}
