package catalog

import "testing"

// NIST Special Publication 811 (2008), appendix B.8, exact values; from memory.
func TestUnitFactorsAreTheExactOnes(t *testing.T) {
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"foot", FootM, 0.3048}, {"yard", YardM, 0.9144}, {"inch", InchM, 0.0254}, {"mile", MileM, 1609.344},
		{"mile per hour", MilePerHourMPS, 0.44704}, {"kilometre per hour", KilometrePerHourMPS, 1 / 3.6},
		{"pound", PoundKg, 0.45359237},
		{"feet of a mile", FtFromM(1609.344), 5280}, {"miles", MiFromM(804.672), 0.5}, {"pounds", LbFromKg(45.359237), 100},
		{"boiling point, °C", CFromF(212), 100}, {"body heat, °F", FFromC(37), 98.6}, {"100 K in °F", FDiffFromC(100), 180},
	} {
		if c.got != c.want {
			t.Errorf("%s: %v, want %v", c.what, c.got, c.want)
		}
	}
}
