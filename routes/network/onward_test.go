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

// Two roundabouts drawn over each other, with node numbers of their own: which of them a hill goes on
// through is the same each time that the roads are read.
func TestTwoRoundaboutsAtOnePlaceAreReadAlike(t *testing.T) {
	var d drawn
	d.ring(0, 0)
	d.ring(0, 0)
	for f := range d.features {
		for i := range d.features[f].Line {
			d.features[f].NodeIDs = append(d.features[f].NodeIDs, int64(100*f+i%12+1))
		}
	}
	d.road("highway=primary ref=A_1", -1500, 0, -20, 0)
	d.road("highway=secondary ref=B_2", 20, 0, 1500, 0)
	seen := map[int]bool{}
	for range 40 {
		_, _, _, all, j := through(d.features)
		x := newOnwardIndex(all, j, nil)
		for i := range all {
			for _, isBack := range []bool{false, true} {
				for _, o := range x.after(i, isBack) {
					if p := o.Pieces[0].Feature; p.Tags["junction"] != "" {
						seen[p.Place.Feature] = true
					}
				}
			}
		}
	}
	if len(seen) != 1 {
		t.Errorf("of roundabouts 1 and 2 the roads take %v", seen)
	}
}
