package catalog

import (
	"math"
	"strings"
	"testing"
)

// Heights and strokes as they stand on American data sheets; 1 ft = 0.3048 m, 1 in = 0.0254 m
// (NIST Special Publication 811, from memory).
func TestFeetAndInches(t *testing.T) {
	for text, wantM := range map[string]float64{
		"13 ft 6 in": 4.1148, "13'6\"": 4.1148, "13' 6\"": 4.1148, "13′6″": 4.1148, "13ft6in": 4.1148, "13'-6\"": 4.1148, "13 feet 6 inches": 4.1148,
		"70'": 21.336, "70 feet": 21.336, "45\"": 1.143, "16.5 inches": 0.4191, "1 3/4 in": 0.04445, "1-3/4\"": 0.04445, "1/2 in": 0.0127, "2 1/2 inches": 0.0635,
		"13 ft 6.5 in": 4.1275, "13 ft 6 1/2 in": 4.1275,
	} {
		f, err := DimensionLengthM.Read(text)
		if err != nil || math.Abs(f.SI-wantM) > 1e-12 {
			t.Errorf("%q: %v, %v, want %v", text, f.SI, err, wantM)
		}
	}
	f, err := DimensionLengthM.Read("13 ft 6 in")
	if shown := f.Show(1.8288); err != nil || shown != "6 ft" {
		t.Errorf("%v, shown as %q", err, shown)
	}
	for _, bad := range []string{
		"13 ft 12 in", "13 ft 6", "13.5 ft 6 in", "ft 6 in", "13 ft in", "'", "\"", "6 in 13 ft", "13 ft 6 in 2", "1 4/3 in", "1/0 in", "3/4 ft", "1 3/4 m",
		"-13 ft 6 in", "13 ft 6 ft", "5 min", strings.Repeat("1", 39) + "'",
	} {
		if f, err := DimensionLengthM.Read(bad); err == nil {
			t.Errorf("%q reads as %v m", bad, f.SI)
		}
	}
	if _, err := MassKg("13 ft 6 in"); err == nil {
		t.Error("a length is a mass")
	}
	if m, err := LengthM("45\""); err == nil {
		t.Errorf("a road of 45 inches reads as %v", m)
	}
}

// A decimal comma is named, with the figure as it must be written.
func TestADecimalCommaIsNamed(t *testing.T) {
	for text, read := range map[string]func() error{
		"14.8 t": func() error { _, err := MassKg("14,8 t"); return err },
		"4.00 m": func() error { _, err := DimensionLengthM.Read("4,00 m"); return err },
		"46.5":   func() error { _, err := MassKg("46,5"); return err },
	} {
		if err := read(); err == nil || !strings.Contains(err.Error(), "with a point, as in "+text) {
			t.Errorf("%s: %v", text, err)
		}
	}
	for _, other := range []string{"14,8,2 t", "1,2 parsec", ",", ",5,"} {
		if _, err := MassKg(other); err == nil || strings.Contains(err.Error(), "with a point") {
			t.Errorf("%q: %v", other, err)
		}
	}
}
