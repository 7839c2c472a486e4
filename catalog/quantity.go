package catalog

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// unit is a spelling, its size in SI units, and whether it is suggested for a number without a unit.
type unit struct {
	name      string
	si        float64
	isOffered bool
}

// The accepted spellings, by kind of quantity; the first that fits is used.
var (
	massUnits   = []unit{{"kg", 1, true}, {"lbs", PoundKg, false}, {"lb", PoundKg, true}, {"t", 1000, true}, {"st", 2000 * PoundKg, false}}
	lengthUnits = []unit{{"km", 1000, true}, {"mi", MileM, true}, {"ft", FootM, true}, {"m", 1, true}}
	speedUnits  = []unit{{"km/h", KilometrePerHourMPS, true}, {"kmh", KilometrePerHourMPS, false}, {"mph", MilePerHourMPS, true}, {"m/s", 1, false}}
)

// MassKg reads "102500lb", "102,500 lb", "46.5t", "40 st" or "46500kg". A bare
// number and a bare "ton" are refused.
func MassKg(s string) (float64, error) {
	if low := strings.ToLower(s); strings.Contains(low, "ton") {
		return 0, quantityFault(s, "ton has three meanings", "write t for 1,000 kg or st for 2,000 lb, as in 46.5t or 40st")
	}
	return quantity(s, "mass", massUnits, "102500lb or 46.5t")
}

// LengthM reads "6mi", "9.6km", "3000ft" or "900m". A bare number is refused.
func LengthM(s string) (float64, error) { return quantity(s, "length", lengthUnits, "6mi or 9.6km") }

// AltitudeM reads "7000ft", "900m" or "0m", below sea level with a minus sign. A bare
// number is refused.
func AltitudeM(s string) (float64, error) {
	t, isBelow := strings.CutPrefix(strings.TrimSpace(s), "-")
	m, err := quantityFrom(t, "altitude", lengthUnits, "7000ft or 900m", true)
	if isBelow {
		m = -m
	}
	return m, err
}

// TempC reads "35C", "-10 °C" or "95F". A bare number is refused.
func TempC(s string) (float64, error) {
	t, isBelow := strings.CutPrefix(strings.TrimSpace(s), "-")
	for _, unit := range []string{"°C", "C", "°F", "F"} {
		head, ok := strings.CutSuffix(strings.ToUpper(t), unit)
		if !ok {
			continue
		}
		v, isNumber := number(strings.TrimSpace(head))
		if !isNumber {
			break
		}
		if isBelow {
			v = -v
		}
		if strings.HasSuffix(unit, "F") {
			v = CFromF(v)
		}
		return v, nil
	}
	return 0, quantityFault(s, "not a temperature with its unit", "write it as in 35C or 95F")
}

// SpeedMPS reads "25mph", "40km/h" or "11m/s". A bare number is refused.
func SpeedMPS(s string) (float64, error) { return quantity(s, "speed", speedUnits, "25mph or 40km/h") }

// WindMPS is SpeedMPS for wind: "0mph" is a calm.
func WindMPS(s string) (float64, error) {
	return quantityFrom(s, "speed", speedUnits, "10mph or 20km/h", true)
}

// DowngradePct reads "8%", "6.5 %" or "-8%" as the magnitude of a downgrade in
// per cent. A bare number is refused, as is anything not between 0 and 100.
func DowngradePct(s string) (float64, error) {
	g, err := quantity(strings.TrimPrefix(strings.TrimSpace(s), "-"), "grade", []unit{{"%", 1, true}}, "8%")
	if err != nil {
		return 0, err
	}
	if g >= 100 {
		return 0, quantityFault(s, "a grade of 100 % or more is impossible for a road", "write the downgrade in per cent, as in 8%")
	}
	return g, nil
}

// quantity reads a positive decimal number followed by one of the units.
func quantity(s, what string, units []unit, example string) (float64, error) {
	return quantityFrom(s, what, units, example, false)
}

// quantityFrom is quantity; with isZeroGiven it also accepts zero.
func quantityFrom(s, what string, units []unit, example string, isZeroGiven bool) (float64, error) {
	t := feetAndInches(strings.TrimSpace(s), units)
	for _, u := range units {
		num, isUnit := withoutUnit(t, u.name)
		if !isUnit {
			continue
		}
		v, ok := number(num)
		if !ok {
			if v, ok = fraction(num, u.name); !ok {
				continue // one unit may end in another; a later unit may fit
			}
		}
		si := v * u.si
		if !(si > 0) && !(isZeroGiven && si == 0) || math.IsInf(si, 0) {
			return 0, quantityFault(s, "not a positive "+what, "write it as in "+example)
		}
		return si, nil
	}
	if _, ok := number(t); ok {
		return 0, quantityFault(s, what+" without a unit", "add the unit: "+withUnits(t, units))
	}
	if point, ok := decimalComma(t, units); ok {
		return 0, quantityFault(s, "not a valid "+what+", since a comma stands before each three digits", "write decimals with a point, as in "+point)
	}
	return 0, quantityFault(s, "not a valid "+what, "write it as in "+example)
}

// withoutUnit is a text's part before a unit, and whether it ends in that unit.
func withoutUnit(s, unitName string) (string, bool) {
	if len(s) < len(unitName) || !strings.EqualFold(s[len(s)-len(unitName):], unitName) {
		return "", false
	}
	return strings.TrimSpace(s[:len(s)-len(unitName)]), true
}

// decimalComma is a text such as "14,8 t" with a point in place of its one comma, and whether that
// is a figure.
func decimalComma(s string, units []unit) (string, bool) {
	if strings.Count(s, ",") != 1 {
		return "", false
	}
	point := strings.Replace(s, ",", ".", 1)
	if _, ok := number(point); ok {
		return point, true
	}
	for _, u := range units {
		if num, isUnit := withoutUnit(point, u.name); isUnit {
			if _, ok := number(num); ok {
				return point, true
			}
		}
	}
	return "", false
}

// withUnits lists a bare number with each unit that may have been meant.
func withUnits(number string, units []unit) string {
	var out []string
	for _, u := range units {
		if u.isOffered {
			out = append(out, number+u.name)
		}
	}
	return strings.Join(out, " or ")
}

// number reads plain decimals with optional thousands commas; no exponents,
// no NaN, no hexadecimal.
func number(s string) (float64, bool) {
	if s == "" || len(s) > 32 {
		return 0, false
	}
	for _, r := range s {
		if (r < '0' || r > '9') && r != '.' && r != ',' {
			return 0, false
		}
	}
	if strings.Contains(s, ",") && !thousands(s) {
		return 0, false
	}
	v, err := strconv.ParseFloat(strings.ReplaceAll(s, ",", ""), 64)
	return v, err == nil
}

// thousands reports whether each comma of s is followed by a group of three digits: "46,5" is
// refused, since many countries read it as 46.5.
func thousands(s string) bool {
	whole, _, _ := strings.Cut(s, ".")
	groups := strings.Split(whole, ",")
	for i, g := range groups {
		if i == 0 && (g == "" || len(g) > 3) || i > 0 && len(g) != 3 {
			return false
		}
	}
	return !strings.Contains(s[len(whole):], ",")
}

func quantityFault(s, what, fix string) error {
	return &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q: %s", s, what), Fix: fix}
}
