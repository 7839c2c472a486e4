package wording

import (
	"testing"

	"gradeline/catalog"
)

// A foot is 0.3048 m (international foot, 1959): 28.4 m are 93.2 ft. Rounded down, so that
// no curve reads wider than it is.
func TestRadiusIsConvertedAndRoundedDown(t *testing.T) {
	for radiusM, want := range map[float64][2]string{28.4: {"28 m", "93 ft"}, 28.99: {"28 m", "95 ft"}, 152.4: {"152 m", "500 ft"}} {
		if m, ft := Radius(radiusM, catalog.Metric), Radius(radiusM, catalog.US); m != want[0] || ft != want[1] {
			t.Errorf("%v m: %s and %s, want %v", radiusM, m, ft, want)
		}
	}
}
