package survey

import (
	"math"
	"testing"
)

// What drives must reach for a line to be wrong: 8 m and two standard deviations of the middle one of
// several receivers of 4 m, by hand. Drives that differ more must reach more; of two the nearer counts.
func TestWhenALineIsWrong(t *testing.T) {
	for _, c := range []struct {
		offsM         []float64
		offM, limitM  float64
		isAgainstLine bool
	}{
		{[]float64{14, 14, 14}, 14, 8 + 2*1.25*4/math.Sqrt(3), true},
		{[]float64{13.5, 13.5, 13.5}, 13.5, 8 + 2*1.25*4/math.Sqrt(3), false},
		{[]float64{-15.2, -17}, -15.2, 8 + 2*1.25*4/math.Sqrt(2), true},
		{[]float64{11.3, 11.3, 11.3, 11.3, 11.3, 11.3, 11.3, 11.3, 11.3}, 11.3, 8 + 2*1.25*4/3, false},
		{[]float64{11.4, 11.4, 11.4, 11.4, 11.4, 11.4, 11.4, 11.4, 11.4}, 11.4, 8 + 2*1.25*4/3, true},
		{[]float64{4, 14, 24}, 14, 8 + 2*1.25*10/math.Sqrt(3), false},
		{[]float64{8.2, 14, 19.8}, 14, 8 + 2*1.25*4/math.Sqrt(3), true},
		{[]float64{7.8, 14, 20.2}, 14, 8 + 2*1.25*6.2/math.Sqrt(3), false},
		{[]float64{30}, 0, 8, false},
	} {
		byDrive := map[int64][]float64{}
		for k, m := range c.offsM {
			byDrive[int64(k)] = []float64{m - 1, m + 1}
		}
		offM, limitM := agreedOffset(byDrive)
		if math.Abs(offM-c.offM) > 1e-9 || math.Abs(limitM-c.limitM) > 1e-9 || (math.Abs(offM) >= limitM) != c.isAgainstLine {
			t.Errorf("%v: %.2f m of %.2f m, want %.2f of %.2f", c.offsM, offM, limitM, c.offM, c.limitM)
		}
	}
}
