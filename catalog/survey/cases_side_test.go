package survey_test

import (
	"context"
	"math"
	"testing"

	"gradeline/terrain/synth"
)

// benchOnASlope is a road that rolls on a bench 8 m wide, cut into a 60 % slope
// that falls to the south.
func benchOnASlope(road func(x, y float64) float64) func(x, y float64) float64 {
	return func(x, y float64) float64 {
		switch {
		case y > 4:
			return road(x, y) + 0.6*(y-4)
		case y < -4:
			return road(x, y) + 0.6*(y+4)
		}
		return road(x, y)
	}
}

// Case 9, across the line as well: a line drawn 8 m down the slope, or first on
// one side and then on the other, gives the hill that is there.
func TestALineBesideABenchGivesTheRoadsGrade(t *testing.T) {
	down := func(float64) float64 { return 8 }
	switching := func(x float64) float64 { return 8 * math.Tanh((x-4500)/100) }
	road := madeHill(6, 5000)
	for _, cellM := range []float64{1, 10} {
		for name, offset := range map[string]func(float64) float64{"down the slope": down, "switching sides": switching} {
			g := noisyGround(cellM, 9, benchOnASlope(road))
			res := surveyed(t, g, madeWay(1, eastward(9000, offset)))
			if len(res.Entries) != 1 {
				t.Fatalf("%g m cells, %s: %d descents, want 1", cellM, name, len(res.Entries))
			}
			d := res.Entries[0].Descent
			trueM := road(d.StartM, 0) - road(d.EndM, 0)
			t.Logf("%g m cells, %s: drop %.1f m of %.1f, %.2f ± %.2f %%", cellM, name, d.DropM, trueM, d.MeanDowngradePct, d.MeanDowngradeErrPct)
			// The bound as stated: at 10 m cells, wider than the bench, up to two thirds of it is used.
			if off := 100 * math.Abs(d.DropM-trueM) / d.LengthM; off > d.MeanDowngradeErrPct {
				t.Errorf("%g m cells, %s: mean off by %.3f points, bound %.3f", cellM, name, off, d.MeanDowngradeErrPct)
			}
		}
	}
}

// Case 14: a bench 7 m wide in a 1 m raster, the line drawn 8 m rms beside it.
func TestANarrowBenchIsFoundBesideTheLine(t *testing.T) {
	for _, seed := range synth.Tuning[:2] {
		road, cases, err := runRoad(context.Background(), synth.Options{Seed: seed, LengthM: 2500, BenchHalfWidthM: 3.5, LateralRMSM: 8}, []float64{1}, ours())
		if err != nil {
			t.Fatal(err)
		}
		s := measureRoad(road, cases[0])
		p := cases[0].profile
		near := 0
		for i, off := range p.LateralM {
			k := min(int(p.StationM(i)/p.LengthM*road.LengthM/5+0.5), len(road.TruthOffsetM)-1)
			if math.Abs(off-road.TruthOffsetM[k]) <= 3.5 {
				near++
			}
		}
		share := float64(near) / float64(len(p.LateralM))
		t.Logf("seed %d: grade RMSE %.3f points, %.3f of the stations found on the bench", seed, rms(s.gradeAll), share)
		if got := rms(s.gradeAll); got > 0.3 {
			t.Errorf("seed %d: grade RMSE %.3f points, never more than 0.3", seed, got)
		}
		if share < 0.85 {
			t.Errorf("seed %d: only %.2f of the stations are found on the bench", seed, share)
		}
	}
}
