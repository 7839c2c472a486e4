package grade

import (
	"math"
	"testing"

	"gradeline/routes"
)

// A part that is steep for a few hundred metres comes out eased, and advice takes the
// steep end of the bound: so that end has to hold on it, and not only in the mean over
// all roads. Closed form: tangents and parabolas, the usual error of the cell size.
// Without what smoothing took off, the same bounds hold in the shares logged behind.
func TestBoundsHoldOnAShortSteepPart(t *testing.T) {
	if testing.Short() {
		t.Skip("540 fits")
	}
	for _, c := range []struct {
		cellM, leastShare float64 // of the upper bounds that hold; measured less .03
	}{{1, 0.97}, {10, 0.93}, {30, 0.91}, {90, 0.92}} {
		held, bare, n, short := 0, 0, 0, 0.0
		for _, basePct := range []float64{0, -6} {
			for _, steepPct := range []float64{-9, -12} {
				for _, lengthM := range []float64{300, 800, 1500} {
					for seed := uint64(1); seed <= 15; seed++ {
						stepM := stepFromCell(c.cellM)
						truth := heights(stepM, leg{2000, basePct, 80}, leg{lengthM, steepPct, 80}, leg{2000, basePct, 0})
						p := mustRecover(t, lineGround(spoil(truth, stepM, c.cellM, 1, seed), stepM, c.cellM), Options{})
						a, b := math.Round(2000/stepM), math.Round((2000+lengthM)/stepM)
						fromM, toM := a*p.StepM, b*p.StepM
						truePct := 100 * (truth[int(a)] - truth[int(b)]) / (toM - fromM)
						gotPct := 100 * (p.ElevationAtM(fromM) - p.ElevationAtM(toM)) / (toM - fromM)
						n++
						short += truePct - gotPct
						if gotPct+p.MeanErrPct(fromM, toM) >= truePct {
							held++
						}
						if gotPct+p.Bound.MeanErrPct(toM-fromM, p.InterpolatedM(fromM, toM)) >= truePct {
							bare++
						}
					}
				}
			}
		}
		share := float64(held) / float64(n)
		t.Logf("%g m cells: %.2f points eased on average; the steep end of the bound holds in %.3f of %d, %.3f without what smoothing took off", c.cellM, short/float64(n), share, n, float64(bare)/float64(n))
		if share < c.leastShare {
			t.Errorf("%g m cells: the bound holds in %.3f", c.cellM, share)
		}
		if bare >= held {
			t.Errorf("%g m cells: what smoothing took off widens nothing", c.cellM)
		}
	}
}

// On a clean even hill smoothing takes nothing off, and nothing widens.
func TestNothingIsEasedOnAnEvenHill(t *testing.T) {
	const cellM = 10.0
	stepM := stepFromCell(cellM)
	p := mustRecover(t, lineGround(heights(stepM, leg{6000, -7, 0}), stepM, cellM), Options{})
	for s := 0.0; s+100 <= p.LengthM; s += 100 {
		if e := math.Abs(p.EasePct(s, s+100)); e > 0.01 {
			t.Fatalf("%.0f m: %.3f points", s, e)
		}
	}
}

// The difference has the road's direction: forward and backward it is mirrored.
func TestEaseIsMirroredWithTheRoute(t *testing.T) {
	const cellM = 30.0
	stepM := stepFromCell(cellM)
	z := spoil(heights(stepM, leg{2000, 0, 80}, leg{500, -10, 80}, leg{2000, 0, 0}), stepM, cellM, 1, 3)
	a := mustRecover(t, lineGround(z, stepM, cellM), Options{})
	for i, j := 0, len(z)-1; i < j; i, j = i+1, j-1 {
		z[i], z[j] = z[j], z[i]
	}
	b := mustRecover(t, lineGround(z, stepM, cellM), Options{})
	worst := 0.0
	for i, v := range a.EaseM {
		worst = math.Max(worst, math.Abs(v-b.EaseM[len(z)-1-i]))
	}
	if worst != 0 || len(a.EaseM) != a.Count() {
		t.Errorf("%d of %d stations, differ by %g m", len(a.EaseM), a.Count(), worst)
	}
	if e := a.EasePct(2000, 2500); !(e < -0.2) {
		t.Errorf("500 m of 10 %% were eased by %.2f points: want the road to fall more", e)
	}
	var none routes.Profile
	if none.EasePct(0, 100) != 0 {
		t.Error("a profile without it says something was eased")
	}
}
