package network

import "testing"

// A side road ends at a vertex in the middle of a main road: that place is a road's end, the main
// road's other vertices are not.
func TestIsRoadEnd(t *testing.T) {
	var d drawn
	d.road("highway=primary ref=A_1", 0, 0, 1000, 0, 2000, 0, 3000, 0)
	d.road("highway=secondary name=Side", 2000, 0, 2000, 1500)
	_, _, _, all, j := through(d.features)
	s := Summary{onward: newOnwardIndex(all, j, nil)}
	for _, c := range []struct {
		x, y float64
		want bool
	}{{0, 0, true}, {1000, 0, false}, {2000, 0, true}, {3000, 0, true}, {2000, 1500, true}, {500, 0, false}} {
		if got := s.IsRoadEnd(at(c.x, c.y)); got != c.want {
			t.Errorf("%v, %v m: %v", c.x, c.y, got)
		}
	}
	if (&Summary{}).IsRoadEnd(at(0, 0)) {
		t.Error("a summary without a network has ends")
	}
}
