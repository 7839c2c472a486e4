package raster

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// A raster is under a line where the line, or a kilometre beside it, is over the raster; across longitude
// 180° and on any turn around the globe too.
func TestARasterUnderALine(t *testing.T) {
	box := [4]float64{10, 46, 11, 47}
	for _, c := range []struct {
		name string
		line orb.LineString
		box  [4]float64
		want bool
	}{
		{"within", orb.LineString{{10.4, 46.4}, {10.5, 46.5}}, box, true},
		{"across, no vertex within", orb.LineString{{9.5, 46.5}, {11.5, 46.5}}, box, true},
		{"one vertex", orb.LineString{{10.5, 46.5}}, box, true},
		{"east of it by 700 m", orb.LineString{{11.009, 46.2}, {11.009, 46.8}}, box, true},
		{"east of it by 1.5 km", orb.LineString{{11.02, 46.2}, {11.02, 46.8}}, box, false},
		{"north of it by 1.2 km", orb.LineString{{10.2, 47.011}, {10.8, 47.011}}, box, false},
		{"around it", orb.LineString{{9.5, 45.5}, {11.5, 45.5}, {11.5, 47.5}}, box, false},
		{"a turn further", orb.LineString{{370.4, 46.4}, {370.5, 46.5}}, box, true},
		{"over 180°, raster east of it", orb.LineString{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{-180, 46, -179, 47}, true},
		{"over 180°, raster west of it", orb.LineString{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{179, 46, 180, 47}, true},
		{"over 180°, raster at Greenwich", orb.LineString{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{0, 46, 1, 47}, false},
		{"none", nil, box, false},
		{"not on Earth", orb.LineString{{1e300, 46.5}, {math.Inf(1), 46.5}, {math.NaN(), 0}}, box, false},
	} {
		if got := newNearLine(c.line).comesNear(c.box); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
