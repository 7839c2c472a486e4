package resurvey

import (
	"math"
	"testing"

	"gradeline/catalog"
)

// A line of two vertices overlaps with itself over its length, on a sphere: .01° to the east
// at 60° north are 111,320·.5·.01 = 556.6 m, .01° to the north 1,105.74 m. The other way, or
// far from it, nothing does.
func TestOverlapOfLinesOfTwoVertices(t *testing.T) {
	line := func(lon0, lat0, lon1, lat1 float64) []catalog.Vertex {
		return []catalog.Vertex{{LonDeg: lon0, LatDeg: lat0}, {LonDeg: lon1, LatDeg: lat1}}
	}
	east := line(10, 60, 10.01, 60)
	for _, k := range []struct {
		name string
		a, b []catalog.Vertex
		want float64
	}{
		{"itself", east, east, 556.6}, {"north", line(10, 60, 10, 60.01), line(10, 60, 10, 60.01), 1105.74},
		{"the other way", east, line(10.01, 60, 10, 60), 0}, {"a degree away", east, line(10, 61, 10.01, 61), 0}, {"one vertex", east[:1], east, 0}, {"one vertex of the other", east, east[:1], 0},
	} {
		if got := placeOverlapM(k.a, k.b); math.Abs(got-k.want) > 0.01 {
			t.Errorf("%s: %.2f m, want %.2f", k.name, got, k.want)
		}
	}
}
