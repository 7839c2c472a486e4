package survey

import (
	"context"
	"errors"
	"sync/atomic"
	"testing"
	"time"

	"gradeline/catalog/vehicle"
	"gradeline/routes"
)

// Workers go on while the one who writes waits, as for its commit: 64 routes each, or what the
// memory has room for, in which a finished route counts less than one in work.
func TestWorkersGoOnWhileResultsWait(t *testing.T) {
	for _, c := range []struct {
		name    string
		limit   int64
		atLeast int64
	}{
		{"no limit", 0, 64},
		{"16 MiB for one worker", 96<<20 + programBytes + workerBytes, 40},
	} {
		t.Run(c.name, func(t *testing.T) {
			var surveyed atomic.Int64
			o := Options{Classes: []vehicle.Class{testClass(t)}, Workers: 1, MemoryBytes: c.limit,
				GradeLine: func(context.Context, *routes.Route) (GradeLine, error) {
					surveyed.Add(1)
					return GradeLine{}, errors.New("no grade line is needed here")
				}}
			each := func(yield func(routes.Route, error) bool) {
				for range 200 {
					if !yield(routes.Route{ID: "short", LengthM: 1000}, nil) {
						return
					}
				}
			}
			n := 0
			for _, err := range Results(t.Context(), drawnGround{}, each, o) {
				if err != nil {
					t.Fatal(err)
				}
				for patience := 0; n == 0 && surveyed.Load() < c.atLeast; patience++ {
					if patience == 3000 {
						t.Fatalf("%d routes are surveyed while the first result waits, want %d", surveyed.Load(), c.atLeast)
					}
					time.Sleep(10 * time.Millisecond)
				}
				n++
			}
			if n != 200 {
				t.Errorf("%d of 200 routes", n)
			}
		})
	}
}
