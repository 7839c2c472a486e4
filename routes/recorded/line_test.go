package recorded

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// Passing over far boxes changes nothing: the same places as from one box of all.
func TestBoxesFindTheSamePlaces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var r Line
		n := rapid.IntRange(2, 200).Draw(t, "points")
		x, y, turn := 0.0, 0.0, 0.0
		for range n { // a winding road with hairpins
			turn += rapid.Float64Range(-0.6, 0.6).Draw(t, "turn")
			x, y = x+12*math.Cos(turn), y+12*math.Sin(turn)
			r.x, r.y, r.distanceM = append(r.x, x), append(r.y, y), append(r.distanceM, 12*float64(len(r.x)))
		}
		whole := r
		r.boxed()
		inf := math.Inf(1)
		whole.boxes = []box{{1, n - 1, -inf, inf, -inf, inf}}
		k := rapid.IntRange(0, n-1).Draw(t, "near")
		px, py := r.x[k]+rapid.Float64Range(-90, 90).Draw(t, "east"), r.y[k]+rapid.Float64Range(-90, 90).Draw(t, "north")
		got, want := r.spotsNear(px, py, nil), whole.spotsNear(px, py, nil)
		if len(got) != len(want) {
			t.Fatalf("%v, in one box %v", got, want)
		}
		for i := range got {
			if got[i] != want[i] {
				t.Fatalf("%v, in one box %v", got, want)
			}
		}
		if a, b := r.nearM(px, py), whole.nearM(px, py); a != b {
			t.Fatalf("%v m from the road, in one box %v", a, b)
		}
	})
}
