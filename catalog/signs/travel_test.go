package signs

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// maximal finds all maximal scoring segments by their definition: the best
// segment, then the same to its left and to its right (Ruzzo and Tompa 1999).
func maximal(score []float64, from, to int, out *[][2]int) {
	best, a, b := 0.0, -1, -1
	for i := from; i < to; i++ {
		sum := 0.0
		for j := i; j < to; j++ {
			if sum += score[j]; sum > best {
				best, a, b = sum, i, j+1
			}
		}
	}
	if a < 0 {
		return
	}
	maximal(score, from, a, out)
	*out = append(*out, [2]int{a, b})
	maximal(score, b, to, out)
}

func TestStretchesAreMaximal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var legs []leg
		for i := range rapid.IntRange(1, 25).Draw(t, "legs") {
			grade := float64(rapid.IntRange(-2, 12).Draw(t, "grade")) + 0.01*math.Sqrt(float64(i+2)) // no two sums alike
			legs = append(legs, leg{10 * float64(rapid.IntRange(1, 9).Draw(t, "tens")), grade, 0})
		}
		p := road(0.3, legs...)
		d := descent(p, 0, p.LengthM)
		tr, err := newTravel(&d, p)
		if err != nil {
			t.Fatal(err)
		}
		var score []float64
		for i := 0; i+1 < len(tr.heightM); i++ {
			score = append(score, tr.heightM[i]-tr.heightM[i+1]-(5-1e-7)/100*tr.stepM)
		}
		var want [][2]int
		maximal(score, 0, len(score), &want)
		got := tr.above(span{0, tr.lenM}, 5, 1)
		if len(got) != len(want) {
			t.Fatalf("%d stretches, want %d", len(got), len(want))
		}
		for i, w := range want {
			if math.Abs(got[i].fromM-float64(w[0])*10) > 1e-6 || math.Abs(got[i].toM-float64(w[1])*10) > 1e-6 {
				t.Fatalf("stretch %d: %+v, want %v", i, got[i], w)
			}
		}
	})
}

// The steepest window is no less than any window at any place.
func TestSteepestWindow(t *testing.T) {
	in := passDescent()
	tr, err := newTravel(&in.Descent, in.Profile)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.Float64Range(15, 4000).Draw(t, "window")
		a := rapid.Float64Range(0, tr.lenM-w).Draw(t, "at")
		at, pct := tr.steepest(0, tr.lenM, w)
		if tr.downPct(a, a+w) > pct+1e-9 || math.Abs(tr.downPct(at, at+w)-pct) > 1e-9 {
			t.Fatalf("%g m from %g m is steeper than %g %%", w, a, pct)
		}
	})
}
