package holding

import (
	"math"
	"testing"

	"gradeline/routes"
)

// evenHill is a hill of so many intervals of stepM whose downgrade is by its middle.
func evenHill(n int, stepM float64, downPct func(midM float64) float64) *Hill {
	h := &Hill{StationM: []float64{0}}
	for i := range n {
		h.StationM = append(h.StationM, float64(i+1)*stepM)
		h.DowngradePct = append(h.DowngradePct, downPct((float64(i)+.5)*stepM))
		h.ErrPct = append(h.ErrPct, 1)
	}
	return h
}

// A mean over 200 m that begins or ends within 200 m of the line's end has three times its bound on coarse
// cells: one about a place 299 m from the end, not one about 301 m.
func TestBoundsAtTheLinesEndCountThreeTimes(t *testing.T) {
	for _, c := range []struct {
		lineM            float64 // the hill has 2,400 m of it
		isWideA, isWideB bool    // at its start, at its end
	}{{2400, true, true}, {2599, true, true}, {2601, true, false}} {
		h := evenHill(1200, 2, func(float64) float64 { return 6 })
		h.CellM = 30
		h.widenAtLineEnds(&routes.Profile{LengthM: c.lineM}, h.ErrPct, 200)
		for i, got := range h.ErrPct {
			midM := float64(i)*2 + 1
			want := 1.0
			if c.isWideA && midM < 300 || c.isWideB && midM > c.lineM-300 {
				want = 3
			}
			if c.lineM == 2599 && midM > 2299 { // the mean that reaches the hill's foot is 199 m from the line's end
				want = 3
			}
			if got != want {
				t.Fatalf("a line of %g m, %g m down: bound of %g points, want %g", c.lineM, midM, got, want)
			}
		}
	}
}

// In a void of 320 m a mean over 200 m counts twice its bound, half as much more where about half of it is
// on ground, and once elsewhere; so it does in a structure without a tag. Where the void is of 280 m, or
// the structure carries a tag, nothing is added.
func TestBoundsOfHiddenStretchesCountTwice(t *testing.T) {
	for _, c := range []struct {
		lengthM, want float64
		state         routes.StationState
	}{{320, 2, routes.InVoid}, {320, 2, routes.FoundStructure}, {280, 1, routes.InVoid}, {320, 1, routes.InTunnel}, {320, 1, routes.OnBridge}} {
		p := &routes.Profile{StepM: 10, LengthM: 2000}
		for i := range 201 {
			state := routes.Measured
			if x := float64(i) * 10; x > 1000 && x < 1000+c.lengthM {
				state = c.state
			}
			p.State = append(p.State, state)
		}
		h := evenHill(200, 10, func(float64) float64 { return 6 })
		h.widenHidden(hiddenAlong(p, h), h.ErrPct, 200)
		half := 1 + (c.want-1)*0.55 // 11 of 20 intervals of 10 m
		for midM, want := range map[float64]float64{5: 1, 895: 1, 1005: half, 1155: c.want, 1995: 1} {
			if got := h.ErrPct[int(midM/10)]; math.Abs(got-want) > 0.026 {
				t.Errorf("%g m of %v: about %g m ±%.3f points, want ±%.3f", c.lengthM, c.state, midM, got, want)
			}
		}
	}
	if hiddenFromM != 300 || hiddenTimes != 2 {
		t.Errorf("%g times from %g m", hiddenTimes, hiddenFromM)
	}
}

// What a steep part may be steeper by than recovered, by hand: 200 m of 9 % in the middle of
// 2 km, of which the rest is 4 %, but 6 % in its first and last 100 m; beyond it is level.
// The hill about the part is (1,600 m · 4 + 200 m · 6)/1,800 m = 4.222 %; on 10 m cells .6 of
// what the part is steeper by beyond one point is added: .6 · (9 − 4.222 − 1) = 2.267 points.
func TestSteepPartsAreWidenedByTheHillAboutThem(t *testing.T) {
	down := func(midM float64) float64 {
		switch d := math.Abs(midM - 2508); {
		case d < 100:
			return 9
		case d < 900:
			return 4
		case d < 1004:
			return 6
		}
		return 0
	}
	h := evenHill(627, 8, down) // the middle of interval 313 is that of the part
	h.widenSteepParts(h.meansAlong(), func(_, _ float64) float64 { return easedMost(10) }, h.ErrPct, 200)
	if got, want := h.ErrPct[313], 1+.6*(9-(1600*4+200*6)/1800.-1); math.Abs(got-want) > 1e-9 {
		t.Errorf("in the part ±%.6f points, want ±%.6f", got, want)
	}
	if h.ErrPct[10] != 1 || h.ErrPct[610] != 1 {
		t.Errorf("on level road ±%g and ±%g points", h.ErrPct[10], h.ErrPct[610])
	}
	for cellM, want := range map[float64]float64{1: 0, .5: 0, 10: .6, 31.6227766: .9, 90: .6 * 1.954242509} {
		if got := easedMost(cellM); math.Abs(got-want) > 1e-8 {
			t.Errorf("%g m cells: %.6f of it, want %.6f", cellM, got, want)
		}
	}
	// A hill shorter than one and a half times the part is compared with nothing.
	for n, isWidened := range map[int]bool{29: false, 30: true} {
		h := evenHill(n, 10, func(midM float64) float64 {
			if midM < 200 {
				return 9
			}
			return 4
		})
		h.widenSteepParts(h.meansAlong(), func(_, _ float64) float64 { return .6 }, h.ErrPct, 200)
		if (h.ErrPct[0] > 1) != isWidened {
			t.Errorf("%d m: ±%g points", 10*n, h.ErrPct[0])
		}
	}
}

// A block's speed before a slower one is the highest that its gear holds, where it is not sure
// beforehand: on 7 % every speed up to the answer's is tried, those above it are not held.
func TestTheFastestSpeedBeforeASlowerBlockIsHeld(t *testing.T) {
	c := mustClass(t, "us-5axle")
	p := plainProblem(t, c, 7)
	found := 0
	for gear := 3; gear < 9; gear++ {
		held := 0 // highest whole speed that the gear holds
		for u := 1; u < 60; u++ {
			if p.isCarried(gear, u) {
				held = u
			}
		}
		if held < 3 {
			continue
		}
		found++
		b := &block{p: p, fromM: 0, toM: 1e7, firstGear: gear}
		if got := b.fastestBefore(gear, held+5, held-2); got < held-2 || got > held {
			t.Errorf("gear %d: %d, held up to %d", gear, got, held)
		}
		// What is sure beforehand is not tried again.
		b.sureWhole = held + 5
		if got := b.fastestBefore(gear, held+5, held+4); got < held+4 {
			t.Errorf("gear %d: %d though %d is sure", gear, got, held+4)
		}
	}
	if found < 3 {
		t.Errorf("%d gears hold 7 %%", found)
	}
}
