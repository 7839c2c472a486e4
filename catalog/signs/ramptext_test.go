package signs

import (
	"errors"
	"strings"
	"testing"

	"gradeline/terrain"
)

func TestParseRamp(t *testing.T) {
	r, err := ParseRamp("11922m, pea gravel, 150m, -8%")
	if err != nil || r.StationM != 11922 || r.Name != "pea gravel" || len(r.Beds) != 1 || r.Beds[0].LengthM != 150 || r.Beds[0].GradePct != -8 {
		t.Errorf("%+v, %v", r, err)
	}
	for text, part := range map[string]string{
		"11922m, pea gravel, 150m":       "four values",
		"11922, pea gravel, 150m, 8%":    "station",
		"11922m, pea gravel, 150kg, 8%":  "length",
		"11922m, pea gravel, 150m, 150%": "grade",
	} {
		if _, err := ParseRamp(text); !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), part) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// A radius is rounded down, as on the driver's page.
func TestRadiusIsRoundedDown(t *testing.T) {
	for r, want := range map[float64][2]string{28.99: {"28 m", "95 ft"}, 486.9: {"486 m", "1,597 ft"}} {
		if m, ft := radius("metric", r), radius("us", r); m != want[0] || ft != want[1] {
			t.Errorf("%g m: %s and %s, want %v", r, m, ft, want)
		}
	}
}
