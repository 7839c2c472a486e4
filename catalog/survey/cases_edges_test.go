package survey_test

import (
	"math"
	"testing"

	"gradeline/routes"
)

// Case 12, from a noisy raster on: a hill a hair from a threshold is reported as
// borderline or kept as a near miss, on whichever side the noise puts it. It is
// never reported as certain, and never gone; a hill just under 4 % may be
// reported as two parts that are over it.
func TestAHillOnAThresholdIsBorderlineEitherWay(t *testing.T) {
	for _, cellM := range []float64{10, 30} {
		for _, c := range []struct{ gradePct, lengthM float64 }{{3.98, 5000}, {4.02, 5000}, {6, 795}, {6, 805}} {
			for seed := uint64(1); seed <= 5; seed++ {
				g := noisyGround(cellM, seed, madeHill(c.gradePct, c.lengthM))
				res := surveyed(t, g, madeWay(1, eastward(4000+c.lengthM, onTheRoad)))
				for _, e := range res.Entries {
					if d := e.Descent; !d.HasFlag(routes.FlagBorderline) || d.Direction != routes.Forward {
						t.Errorf("%g m cells, %g %% over %g m, seed %d: %.0f m at %.2f ± %.2f %%, flags %v", cellM, c.gradePct, c.lengthM, seed,
							d.LengthM, d.MeanDowngradePct, d.MeanDowngradeErrPct, d.Flags)
					}
				}
				if len(res.Entries) == 0 && len(res.Near) == 0 {
					t.Errorf("%g m cells, %g %% over %g m, seed %d: neither a descent nor a near miss", cellM, c.gradePct, c.lengthM, seed)
				}
			}
		}
	}
}

// Case 20: 1,000 km that roll within 2 % give no descent, and up to
// 30 m cells no near miss either.
func TestAThousandKilometresOfFlatRoadGiveNoDescent(t *testing.T) {
	flat := func(x, _ float64) float64 { return 200 + 9*math.Sin(x/900) + 4*math.Sin(x/450) }
	for _, c := range []struct{ cellM, lengthM float64 }{{10, 20e3}, {30, 60e3}, {90, 1000e3}} {
		g := noisyGround(c.cellM, 20, flat)
		res := surveyed(t, g, madeWay(1, eastward(c.lengthM, onTheRoad)))
		if len(res.Entries) > 0 || len(res.Near) > 0 && c.cellM <= 30 {
			t.Errorf("%g m cells: %d descents and %d near misses on a flat road", c.cellM, len(res.Entries), len(res.Near))
		}
		if !res.Profile.Reliable {
			t.Errorf("%g m cells: a flat road is called unreliable: %s", c.cellM, res.Profile.Unreliable)
		}
	}
}
