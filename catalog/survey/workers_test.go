package survey

import (
	"bytes"
	"os"
	"runtime"
	"strings"
	"testing"

	"gradeline/catalog/specimen"
)

// written is all that a job leaves: its answer, its profile file and every row of its catalogue.
func written(t *testing.T, s Setup) string {
	t.Helper()
	job := runJob(t, s)
	var b bytes.Buffer
	for _, m := range []Members{MembersRoutes, MembersDescents, MembersSkipped, MembersChanges} {
		for text, err := range job.JSON(m) {
			if err != nil {
				t.Fatal(err)
			}
			b.Write(append(text, '\n'))
		}
	}
	if err := job.WriteProfile(&b); err != nil {
		t.Fatal(err)
	}
	if err := job.Close(); err != nil {
		t.Fatal(err)
	}
	rows, err := specimen.RowsOf(s.Catalog)
	if err != nil {
		t.Fatal(err)
	}
	return specimen.WithoutTimes(b.String() + rows)
}

// The answer, the profile file and the rows of the catalogue are the same bytes for any number of
// workers and of processors.
func TestAnyNumberOfWorkersLeavesTheSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("three surveys")
	}
	var first string
	s := demoSetup(t)
	for _, workers := range []int{1, 2, 7} {
		if err := os.RemoveAll(s.Catalog); err != nil {
			t.Fatal(err)
		}
		s.Workers = workers
		before := runtime.GOMAXPROCS(min(workers, 4))
		got := written(t, s)
		runtime.GOMAXPROCS(before)
		if !strings.Contains(got, "veltrane-pass-road-f-") || len(got) < 800_000 {
			t.Fatalf("%d bytes are not a survey of the demonstration", len(got))
		}
		if first == "" {
			first = got
		} else if d := specimen.FirstDifference(got, first); d != "" {
			t.Fatalf("%d workers: not one worker's bytes: %s", workers, d)
		}
	}
}
