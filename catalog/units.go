package catalog

import (
	"fmt"
	"math"
)

// Units is the system that people read.
type Units uint8

// The two systems.
const (
	Metric Units = iota
	US
)

// ParseUnits reads "us" or "metric".
func ParseUnits(s string) (Units, error) {
	switch s {
	case "metric":
		return Metric, nil
	case "us":
		return US, nil
	}
	return Metric, &Fault{Kind: ErrQuantity, What: fmt.Sprintf("%q is not a unit system", s), Fix: "use us or metric"}
}

// String is "us" or "metric".
func (u Units) String() string {
	if u == US {
		return "us"
	}
	return "metric"
}

// Mass writes a mass in whole pounds or in tonnes to 0.1 t.
func (u Units) Mass(massKg float64) string {
	if u == US {
		return group(math.Round(LbFromKg(massKg))) + " lb"
	}
	return fmt.Sprintf("%.1f t", massKg/1000)
}

// MassDown writes a mass that still holds: rounded down, to 100 lb or 0.1 t, so that a
// reader never sees more. Within 2 lb of a hundred it is that hundred: 36,287 kg is
// 79,999 lb and stands for 80,000.
func (u Units) MassDown(massKg float64) string {
	if u == US {
		return group(math.Floor(LbFromKg(massKg)/100+0.02)*100) + " lb"
	}
	return fmt.Sprintf("%.1f t", math.Floor(massKg/100+1e-6)/10)
}

// MassUp writes the lightest mass that something is for: rounded up, to 100 lb or 0.1 t.
func (u Units) MassUp(massKg float64) string {
	if u == US {
		return group(math.Ceil(LbFromKg(massKg)/100-0.02)*100) + " lb"
	}
	return fmt.Sprintf("%.1f t", math.Ceil(massKg/100-1e-6)/10)
}

// Length writes a distance along the road to 0.1 mi or 0.1 km; shorter than
// that, in feet to 50 or metres to 10.
func (u Units) Length(lengthM float64) string { return u.length(lengthM, math.Round) }

// LengthUp is Length rounded up, for a bound or for the distance before a place at which something
// must be done.
func (u Units) LengthUp(lengthM float64) string {
	return u.length(lengthM, func(x float64) float64 { return math.Ceil(x - 1e-6) })
}

// LengthDown is Length rounded down.
func (u Units) LengthDown(lengthM float64) string {
	return u.length(lengthM, func(x float64) float64 { return math.Floor(x + 1e-6) })
}

func (u Units) length(lengthM float64, round func(float64) float64) string {
	if u == US {
		if lengthM < 0.2*MileM {
			return group(round(FtFromM(lengthM)/50)*50) + " ft"
		}
		return fmt.Sprintf("%.1f mi", round(lengthM/(MileM/10))/10)
	}
	if lengthM < 300 {
		return fmt.Sprintf("%.0f m", round(lengthM/10)*10)
	}
	return fmt.Sprintf("%.1f km", round(lengthM/100)/10)
}

// Height writes a height or drop in whole feet or metres.
func (u Units) Height(heightM float64) string {
	if u == US {
		return group(math.Round(FtFromM(heightM))) + " ft"
	}
	return group(math.Round(heightM)) + " m"
}

// HeightDown writes a radius or a sight distance, rounded down.
func (u Units) HeightDown(lengthM float64) string {
	if u == US {
		return group(math.Floor(FtFromM(lengthM)+1e-6)) + " ft"
	}
	return group(math.Floor(lengthM+1e-6)) + " m"
}

// Speed writes a speed in whole mph or km/h, rounded down: an advised speed is
// never rounded up.
func (u Units) Speed(speedMPS float64) string {
	return fmt.Sprintf("%d %s", u.WholeSpeed(speedMPS), u.SpeedName())
}

// WholeSpeed is the speed rounded down to a whole mph or km/h; a speed that is a
// whole number up to rounding error stays.
func (u Units) WholeSpeed(speedMPS float64) int {
	return int(math.Floor(speedMPS/u.SpeedUnitMPS() + 1e-6))
}

// SpeedUnitMPS is one mph or km/h in metres per second.
func (u Units) SpeedUnitMPS() float64 {
	if u == US {
		return MilePerHourMPS
	}
	return KilometrePerHourMPS
}

// SpeedName is "mph" or "km/h".
func (u Units) SpeedName() string {
	if u == US {
		return "mph"
	}
	return "km/h"
}

// Temp writes a temperature to whole degrees Fahrenheit or Celsius.
func (u Units) Temp(tempC float64) string {
	if u == US {
		return fmt.Sprintf("%.0f °F", FFromC(tempC))
	}
	return fmt.Sprintf("%.0f °C", tempC)
}

// group writes a whole number with thousands commas.
func group(v float64) string {
	s := fmt.Sprintf("%.0f", math.Abs(v))
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	if v < 0 {
		s = "-" + s
	}
	return s
}

// GradeWithBound writes a mean downgrade to 0.1 % with its 95 % half-width, which
// is rounded up: a bound never reads smaller than it is, and never 0.0.
func GradeWithBound(downgradePct, errPct float64) string {
	return fmt.Sprintf("%.1f ± %.1f %%", downgradePct, ShownErrPct(errPct))
}

// ShownErrPct is a half-width rounded up to 0.1 points, at least 0.1.
func ShownErrPct(errPct float64) float64 { return math.Max(0.1, math.Ceil(errPct*10-1e-9)/10) }
