//go:build !race

// The race detector makes the gate some ten times slower; the rest of the
// measure runs under it.

package survey_test

import (
	"context"
	"os"
	"testing"

	"gradeline/terrain/synth"
)

// TestAccuracyGate fails when the recovered grade line is worse than it may ever
// be on the first testing roads, at any cell size. The table is printed with -v.
func TestAccuracyGate(t *testing.T) {
	seeds := synth.Testing[:gateRoads]
	use := ours()
	total, _, err := runRoads(context.Background(), 2, optionsOf(seeds), accuracyCells, use)
	if err != nil {
		t.Fatal(err)
	}
	if testing.Verbose() {
		table(os.Stdout, total, use)
	}
	for _, cellM := range accuracyCells {
		s, limit := total[key{cellM, "ours"}], neverWorse[cellM]
		if got := rms(s.gradeAll); !(got <= limit.rmsePct) {
			t.Errorf("%g m: grade RMSE %.3f, never worse than %.2f", cellM, got, limit.rmsePct)
		}
		if got := s.f1(); !(got >= limit.f1) {
			t.Errorf("%g m: F1 %.3f of %d descents, never worse than %.2f", cellM, got, s.truths, limit.f1)
		}
		for _, c := range []struct {
			what string
			c    cover
		}{
			{"mean downgrade against the true descent", s.coverMatched},
			{"mean downgrade over the stated interval", s.coverStated},
			{"end points", s.coverEnds},
			{"heights", s.coverElev},
		} {
			if got := c.c.share(); !(got >= leastCover) {
				t.Errorf("%g m: bounds of the %s hold in %.3f of %d, never less than %.2f", cellM, c.what, got, c.c.all, leastCover)
			}
		}
		if s.truths < 3*len(seeds)/2 {
			t.Errorf("%g m: only %d true descents on %d roads: the gate guards too little", cellM, s.truths, len(seeds))
		}
	}
}
