package catalog

import (
	"math"
	"strings"
	"testing"
)

// Temperatures are read with their units, alone or from the coldest to the hottest.
func TestTempRange(t *testing.T) {
	for text, want := range map[string][2]float64{
		"35C": {35, 35}, "-10C..35C": {-10, 35}, "-10..35C": {-10, 35}, "32F..104F": {0, 40}, " -4 °F .. 95 °F ": {-20, 35}, "0C..0C": {0, 0},
	} {
		cold, hot, err := TempRangeC(text)
		if err != nil || math.Abs(cold-want[0]) > 1e-9 || math.Abs(hot-want[1]) > 1e-9 {
			t.Errorf("%q: %g to %g °C, %v", text, cold, hot, err)
		}
	}
	for text, want := range map[string]string{
		"35": "with its unit", "35..10C": "first temperature is the higher", "..": "with its unit", "10C..": "with its unit", "x..35C": "with its unit", "": "with its unit", "-10C...35C": "with its unit", "1e9C": "with its unit",
	} {
		cold, hot, err := TempRangeC(text)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %g to %g °C, %v", text, cold, hot, err)
		}
	}
}

// The words never promise more weather than the advice is for, in either unit system.
func TestWeatherWordsAreNeverWider(t *testing.T) {
	for _, c := range []struct {
		weather    Weather
		metric, us string
	}{
		{Weather{0, 40, 5}, "air of 0 to 40 °C, wind from behind up to 18 km/h", "air of 32 to 104 °F, wind from behind up to 11 mph"},
		{Weather{-10.4, 35.7, 8.94}, "air of −10 to 35 °C, wind from behind up to 32 km/h", "air of 14 to 96 °F, wind from behind up to 19 mph"},
		{Weather{35, 35, 0}, "air of 35 °C, no wind from behind", "air of 95 °F, no wind from behind"},
		{Weather{-0.4, 3, 0.1}, "air of 0 to 3 °C, no wind from behind", "air of 32 to 37 °F, no wind from behind"},
	} {
		if m, u := c.weather.Words(Metric), c.weather.Words(US); m != c.metric || u != c.us {
			t.Errorf("%+v: %q and %q", c.weather, m, u)
		}
	}
	if got, want := (Weather{0, 40, 5}).WordsInBoth(US, Metric), "air of 32 to 104 °F (0 to 40 °C), wind from behind up to 11 mph (18 km/h)"; got != want {
		t.Errorf("%q, not %q", got, want)
	}
	w := Weather{-10.5, 35, 5}
	if got := w.Flags(); got != "--temperature -10.5C..35C --tailwind 5m/s" {
		t.Error(got)
	}
	cold, hot, err := TempRangeC("-10.5C..35C")
	if err != nil || cold != w.ColdestC || hot != w.HottestC {
		t.Errorf("read back: %g to %g °C, %v", cold, hot, err)
	}
}
