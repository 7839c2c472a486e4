package signs

import (
	"fmt"
	"math"
	"strings"

	"gradeline/catalog"
)

// people is the unit system of this rule set's speeds.
func people(units string) catalog.Units {
	if units == "metric" {
		return catalog.Metric
	}
	return catalog.US
}

// legendLength writes a length as signs of these units show it and returns the
// length shown: whole, half and quarter miles; yards or feet under a quarter
// mile; kilometres to 0.1 and metres to 50.
func legendLength(units string, lengthM float64) (string, float64) {
	if units == "metric" {
		if lengthM < 975 {
			v := math.Max(50, math.Round(lengthM/50)*50)
			return fmt.Sprintf("%.0f m", v), v
		}
		v := math.Round(lengthM/100) / 10
		return fmt.Sprintf("%.1f km", v), v * 1000
	}
	miles := lengthM / catalog.MileM
	switch {
	case miles < 0.2 && units == "uk":
		v := math.Max(50, math.Round(lengthM/catalog.YardM/50)*50)
		return fmt.Sprintf("%.0f YDS", v), v * catalog.YardM
	case miles < 0.2:
		v := math.Max(100, math.Round(lengthM/catalog.FootM/100)*100)
		return fmt.Sprintf("%.0f FT", v), v * catalog.FootM
	case miles >= 10:
		v := math.Round(miles)
		return fmt.Sprintf("%.0f MILES", v), v * catalog.MileM
	}
	quarters := math.Round(miles * 4)
	if miles >= 1 {
		quarters = math.Round(miles*2) * 2
	}
	whole, rest := math.Floor(quarters/4), int(quarters)%4
	parts := []string{}
	if whole > 0 {
		parts = append(parts, fmt.Sprintf("%.0f", whole))
	}
	if rest > 0 {
		parts = append(parts, []string{"", "1/4", "1/2", "3/4"}[rest])
	}
	name := "MILE"
	if quarters > 4 {
		name = "MILES"
	}
	return strings.Join(parts, " ") + " " + name, quarters / 4 * catalog.MileM
}

// legendSpeed writes a speed rounded down to whole mph or km/h.
func legendSpeed(units string, speedMPS float64) string {
	u := people(units)
	if u == catalog.US {
		return fmt.Sprintf("%d MPH", u.WholeSpeed(speedMPS))
	}
	return fmt.Sprintf("%d km/h", u.WholeSpeed(speedMPS))
}

// wholePct rounds a grade by the edition's rule; a half goes up, to the steeper.
func wholePct(rule string, pct float64) float64 {
	const eps = 1e-6
	switch rule {
	case "up":
		return math.Ceil(pct - eps)
	case "down":
		return math.Floor(pct + eps)
	}
	return math.Floor(pct + 0.5 + eps)
}

// rowWords writes a row as people say it.
func rowWords(units string, r Row) string {
	from := "or more"
	if r.Over {
		from = "exceeded"
	}
	s := fmt.Sprintf("%g %% %s", math.Round(r.GradePct*100)/100, from)
	if r.LongerThanM > 0 {
		s += ", longer than " + length(units, r.LongerThanM)
	}
	return s
}

// mass writes a mass in pounds for the United States, else in tonnes.
func mass(units string, massKg float64) string {
	if units == "us" {
		return catalog.US.MassDown(massKg)
	}
	return catalog.Metric.MassDown(massKg)
}

// length writes a length exactly enough for tables: feet or metres.
func length(units string, lengthM float64) string {
	if units == "us" {
		return group(lengthM/catalog.FootM) + " ft"
	}
	return group(lengthM) + " m"
}

// radius is the radius of a curve, rounded down.
func radius(units string, radiusM float64) string {
	if units == "us" {
		return group(math.Floor(radiusM/catalog.FootM)) + " ft"
	}
	return group(math.Floor(radiusM)) + " m"
}

// group writes a whole number with thousands commas.
func group(v float64) string {
	s := fmt.Sprintf("%.0f", math.Abs(v))
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if v < 0 && s != "0" {
		s = "-" + s
	}
	return s
}

// bothSpeeds writes a speed in both systems, rounded down.
func bothSpeeds(speedMPS float64) string {
	return catalog.Metric.Speed(speedMPS) + " (" + catalog.US.Speed(speedMPS) + ")"
}
