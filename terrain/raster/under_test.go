package raster

import (
	"math"
	"testing"

	"gradeline/terrain"
)

// A raster is under a line where the line, or a kilometre beside it, is over the raster; across longitude
// 180° and on any turn around the globe too.
func TestARasterUnderALine(t *testing.T) {
	box := [4]float64{10, 46, 11, 47}
	for _, c := range []struct {
		name string
		line [][2]float64
		box  [4]float64
		want bool
	}{
		{"within", [][2]float64{{10.4, 46.4}, {10.5, 46.5}}, box, true},
		{"across, no vertex within", [][2]float64{{9.5, 46.5}, {11.5, 46.5}}, box, true},
		{"one vertex", [][2]float64{{10.5, 46.5}}, box, true},
		{"east of it by 700 m", [][2]float64{{11.009, 46.2}, {11.009, 46.8}}, box, true},
		{"east of it by 1.5 km", [][2]float64{{11.02, 46.2}, {11.02, 46.8}}, box, false},
		{"north of it by 1.2 km", [][2]float64{{10.2, 47.011}, {10.8, 47.011}}, box, false},
		{"around it", [][2]float64{{9.5, 45.5}, {11.5, 45.5}, {11.5, 47.5}}, box, false},
		{"a turn further", [][2]float64{{370.4, 46.4}, {370.5, 46.5}}, box, true},
		{"over 180°, raster east of it", [][2]float64{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{-180, 46, -179, 47}, true},
		{"over 180°, raster west of it", [][2]float64{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{179, 46, 180, 47}, true},
		{"over 180°, raster at Greenwich", [][2]float64{{179.9, 46.5}, {-179.9, 46.5}}, [4]float64{0, 46, 1, 47}, false},
		{"none", nil, box, false},
		{"not on Earth", [][2]float64{{1e300, 46.5}, {math.Inf(1), 46.5}, {math.NaN(), 0}}, box, false},
	} {
		var line []terrain.Point
		for _, p := range c.line {
			line = append(line, terrain.Point{LonDeg: p[0], LatDeg: p[1]})
		}
		if got := newNearLine(line).comesNear(c.box); got != c.want {
			t.Errorf("%s: %v", c.name, got)
		}
	}
}
