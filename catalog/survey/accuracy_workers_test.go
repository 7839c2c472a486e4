package survey_test

import (
	"context"
	"testing"

	"gradeline/terrain/synth"
)

// The measured figures don't depend on the number of workers, nor on what ran
// before in the same process.
func TestAccuracyDoesNotDependOnWorkers(t *testing.T) {
	options := []synth.Options{}
	for _, seed := range synth.Tuning[:3] {
		options = append(options, synth.Options{Seed: seed, LengthM: 4000})
	}
	cellsM := []float64{10, 90}
	one, _, err := runRoads(context.Background(), 1, options, cellsM, methods[:3])
	if err != nil {
		t.Fatal(err)
	}
	three, _, err := runRoads(context.Background(), 3, options, cellsM, methods[:3])
	if err != nil {
		t.Fatal(err)
	}
	for k, a := range one {
		b := three[k]
		if rms(a.gradeAll) != rms(b.gradeAll) || a.hits != b.hits || a.found != b.found || rms(a.elevErrM) != rms(b.elevErrM) || len(a.gradeAll) < 100 {
			t.Errorf("%v: one worker gives RMSE %v and %d of %d found, three give %v and %d of %d", k, rms(a.gradeAll), a.hits, a.found, rms(b.gradeAll), b.hits, b.found)
		}
	}
}
