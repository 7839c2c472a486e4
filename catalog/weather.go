package catalog

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Weather is the weather that advice is for. Advice is valid in all of it: hot air takes power from
// engine brakes, coolers and air resistance, cold air makes an engine brake grab and a battery
// refuse, and wind from behind takes air resistance away.
type Weather struct {
	ColdestC    float64 `json:"coldest_c"`
	HottestC    float64 `json:"hottest_c"`
	TailwindMPS float64 `json:"tailwind_mps"` // strongest wind from behind
}

// Words is the weather in words, never wider than the advice's: "air of 0 to 40 °C, wind from behind
// up to 18 km/h".
func (w Weather) Words(u Units) string { return w.words(w.AirWords(u), u.Speed(w.TailwindMPS)) }

// WordsInBoth is Words with each figure in a unit system and after it in the other.
func (w Weather) WordsInBoth(first, second Units) string {
	return w.words(w.AirWords(first)+" ("+strings.TrimPrefix(w.AirWords(second), airLead)+")", first.Speed(w.TailwindMPS)+" ("+second.Speed(w.TailwindMPS)+")")
}

func (w Weather) words(air, speed string) string {
	if Metric.WholeSpeed(w.TailwindMPS) == 0 {
		return air + ", no wind from behind"
	}
	return air + ", wind from behind up to " + speed
}

const airLead = "air of "

// AirWords is the air's temperature in words, rounded inward: "air of 0 to 40 °C".
func (w Weather) AirWords(u Units) string {
	const tiny = 1e-6
	cold, hot, name := w.ColdestC, w.HottestC, "°C"
	if u == US {
		cold, hot, name = FFromC(cold), FFromC(hot), "°F"
	}
	low, high := math.Ceil(cold-tiny), math.Floor(hot+tiny)
	if low >= high { // one temperature
		return fmt.Sprintf(airLead+"%s %s", minus(math.Round(hot)), name)
	}
	return fmt.Sprintf(airLead+"%s to %s %s", minus(low), minus(high), name)
}

// Flags writes the weather as a command reads it.
func (w Weather) Flags() string {
	air := digits(w.ColdestC) + "C"
	if w.ColdestC != w.HottestC {
		air += ".." + digits(w.HottestC) + "C"
	}
	return "--temperature " + air + " --tailwind " + digits(w.TailwindMPS) + "m/s"
}

// minus writes a whole number with the sign of print.
func minus(v float64) string { return strings.Replace(fmt.Sprintf("%.0f", v+0), "-", "−", 1) }

// TempRangeC reads the temperatures of the air from the coldest to the hottest, as in "-10C..35C",
// or one alone, as in "35C". The coldest may do without a unit.
func TempRangeC(s string) (coldC, hotC float64, err error) {
	low, high, isRange := strings.Cut(s, "..")
	if !isRange {
		high = low
	}
	if hotC, err = TempC(high); err != nil || strings.HasPrefix(high, ".") {
		return 0, 0, quantityFault(s, "not a temperature with its unit", "write it as in 35C or 95F, or from the coldest to the hottest as in -10C..35C")
	}
	if !isRange {
		return hotC, hotC, nil
	}
	if coldC, err = TempC(low); err != nil {
		if coldC, err = TempC(strings.TrimSpace(low) + unitOfTemp(high)); err != nil {
			return 0, 0, err
		}
	}
	if coldC > hotC {
		return 0, 0, quantityFault(s, "the first temperature is the higher one", "write the coldest first, as in -10C..35C")
	}
	return coldC, hotC, nil
}

// unitOfTemp is the letter of a temperature's unit.
func unitOfTemp(s string) string {
	s = strings.TrimSpace(s)
	return s[max(0, len(s)-1):]
}

// digits writes a number without loss and without an exponent.
func digits(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
