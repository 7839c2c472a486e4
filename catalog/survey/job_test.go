package survey

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/store"
	"gradeline/data"
	"gradeline/routes/network"
	"gradeline/routes/vector"
)

// demoSetup is a job on the embedded example, in a folder of its own.
func demoSetup(t *testing.T) Setup {
	t.Helper()
	dir := t.TempDir()
	demo, err := fs.Sub(data.Files, "demo")
	if err == nil {
		err = os.CopyFS(dir, demo)
	}
	if err != nil {
		t.Fatal(err)
	}
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	return Setup{Options: Options{Classes: classes[:2], Units: catalog.US}, Terrain: []string{filepath.Join(dir, "terrain.tif")},
		Roads: []string{filepath.Join(dir, "routes.geojson")}, Catalog: filepath.Join(dir, "c.gpkg"), Tool: "test", KeepAll: true, KeepProfile: true}
}

// runJob runs a job to its end; it is closed with the test.
func runJob(t *testing.T, s Setup) *Job {
	t.Helper()
	job, err := Begin(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	if err := job.Run(context.Background()); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = job.Close() })
	return job
}

func descentsOf(t *testing.T, job *Job) []DescentFacts {
	t.Helper()
	var out []DescentFacts
	for d, err := range job.Descents() {
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, d)
	}
	return out
}

// What a job gives is what the catalogue holds, ids and all.
func TestAJobGivesWhatTheCatalogueHolds(t *testing.T) {
	s := demoSetup(t)
	job := runJob(t, s)
	cat, err := store.Open(context.Background(), s.Catalog, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	held := map[string]catalog.Entry{}
	if err := cat.Each(context.Background(), store.Filter{}, func(e catalog.Entry) error { held[e.Descent.ID] = e; return nil }); err != nil {
		t.Fatal(err)
	}
	found := descentsOf(t, job)
	if len(found) == 0 || len(found) != len(held) {
		t.Fatalf("%d descents, the catalogue has %d", len(found), len(held))
	}
	for _, d := range found {
		if e := held[d.ID]; !reflect.DeepEqual(e.Descent, d.Descent) || !reflect.DeepEqual(e.Holds, d.Holds) || len(d.Holds) != 2 {
			t.Errorf("%q differs from the catalogue's", d.ID)
		}
	}
	stations, added := 0, 0
	for r, err := range job.Routes() {
		if err != nil || r.Stations == 0 || !r.Reliable {
			t.Errorf("%+v, %v", r, err)
		}
		stations += int(r.LengthM/10) + 1 // a row each ten metres, less a few at the end
	}
	for ch, err := range job.Changes() {
		if err != nil {
			t.Fatal(err)
		}
		added += len(ch.Added)
	}
	if added != len(found) {
		t.Errorf("%d descents added, %d found", added, len(found))
	}
	var rows bytes.Buffer
	if err := job.WriteProfile(&rows); err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(rows.Bytes(), []byte("\n")); n < stations/2 {
		t.Errorf("%d rows of the grade lines over %d stations", n, stations)
	}
}

// A job that is cut short leaves its journal, and the next takes over what was finished;
// the answer is that of a job that was let finish.
func TestAJobCutShortIsTakenUp(t *testing.T) {
	whole := descentsOf(t, runJob(t, demoSetup(t)))
	s := demoSetup(t)
	s.Workers = 1
	ctx, cancel := context.WithCancel(context.Background())
	s.OnRoute = func(int) { cancel() }
	job, err := Begin(ctx, s)
	if err != nil {
		t.Fatal(err)
	}
	if err := job.Run(ctx); !errors.Is(err, context.Canceled) || job.NotKept() != nil {
		t.Fatalf("%v, not kept: %v", err, job.NotKept())
	}
	if err := job.Close(); err != nil || len(journalsBeside(s.Catalog)) != 1 {
		t.Fatalf("%v, journals %v", err, journalsBeside(s.Catalog))
	}
	s.OnRoute = nil
	again := runJob(t, s)
	if n, began := again.Earlier(); n != 1 || began.IsZero() {
		t.Errorf("%d routes to take over, begun %v", n, began)
	}
	if surveyed, takenOver := again.Count(); takenOver != 1 || surveyed < 2 {
		t.Errorf("%d of %d taken over", takenOver, surveyed)
	}
	strip := func(list []DescentFacts) []string {
		var out []string
		for _, d := range list {
			out = append(out, mustJSON(d))
		}
		return out
	}
	if got := strip(descentsOf(t, again)); !slices.Equal(got, strip(whole)) {
		t.Error("the descents differ from those of a job that was let finish")
	}
	if err := again.Close(); err != nil || len(journalsBeside(s.Catalog)) != 0 {
		t.Errorf("%v, journals left: %v", err, journalsBeside(s.Catalog))
	}
}

// A dry run finds the same and leaves nothing behind.
func TestADryRunWritesNothing(t *testing.T) {
	s := demoSetup(t)
	s.DryRun = true
	job := runJob(t, s)
	if n := len(descentsOf(t, job)); n == 0 || job.Catalog() != "" || job.IsStored() {
		t.Errorf("%d descents, catalogue %q", n, job.Catalog())
	}
	if _, err := os.Stat(s.Catalog); err == nil {
		t.Error("a catalogue was made")
	}
	ids := func(job *Job) []string {
		var out []string
		for _, d := range descentsOf(t, job) {
			out = append(out, d.Descent.ID)
		}
		return out
	}
	dry := ids(job)
	s.DryRun = false
	if stored := ids(runJob(t, s)); !slices.Equal(dry, stored) {
		t.Errorf("a dry run names the descents %q, the catalogue %q", dry, stored)
	}
}

// What the files hold besides roads, and ground that is missing, are gaps.
func TestGapsAreNamed(t *testing.T) {
	s := demoSetup(t)
	more := filepath.Join(filepath.Dir(s.Catalog), "more.geojson")
	text := `{"type":"FeatureCollection","features":[
{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[1,2]}},
{"type":"Feature","properties":{"name":"Elsewhere"},"geometry":{"type":"LineString","coordinates":[[1,2],[1.1,2]]}}]}`
	if err := os.WriteFile(more, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	s.Roads = append(s.Roads, more)
	job := runJob(t, s)
	var gaps []string
	for g, err := range job.Gaps() {
		if err != nil {
			t.Fatal(err)
		}
		gaps = append(gaps, g)
	}
	if len(gaps) != 2 || len(job.Unread()) != 1 || gaps[0] != SkipGaps(job.Unread())[0] || !strings.Contains(gaps[1], "Elsewhere") {
		t.Errorf("gaps %q", gaps)
	}
}

func TestBeginRefusesWhatItCannotSurvey(t *testing.T) {
	for _, change := range []func(*Setup){
		func(s *Setup) { s.Terrain = nil },
		func(s *Setup) { s.Roads = nil },
		func(s *Setup) { s.Terrain = []string{s.Catalog + ".none"} },
		func(s *Setup) { s.Part = Part{1, 2}; s.Roads = []string{s.Catalog + ".none"} },
	} {
		s := demoSetup(t)
		change(&s)
		var fault *catalog.Fault
		if job, err := Begin(context.Background(), s); !errors.As(err, &fault) || job != nil {
			t.Errorf("%v, %v", job, err)
		}
	}
}

func TestParsePart(t *testing.T) {
	for text, want := range map[string]Part{"1/1": {1, 1}, "2/8": {2, 8}, "100000/100000": {100000, 100000}} {
		if p, err := ParsePart(text); err != nil || p != want || p.String() != text {
			t.Errorf("%q: %v, %v", text, p, err)
		}
	}
	for _, text := range []string{"", "0/8", "9/8", "1/0", "a/8", "1", "1/8x", "-1/8", "1/100001"} {
		if p, err := ParsePart(text); err == nil {
			t.Errorf("%q is taken for %v", text, p)
		}
	}
}

// The parts of a network are its routes, each in one part.
func TestPartsAreTheNetwork(t *testing.T) {
	s := demoSetup(t)
	in := map[string]int{}
	for n := uint64(1); n <= 3; n++ {
		part, err := newPartition(context.Background(), Part{n, 3}, s.Roads, vector.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for r, err := range ReadRoads(s.Roads, network.Options{}).Routes(context.Background()) {
			if err != nil {
				t.Fatal(err)
			}
			if in[r.ID] += 0; part.has(&r) {
				in[r.ID]++
			}
		}
	}
	for id, n := range in {
		if n != 1 {
			t.Errorf("%s is in %d parts", id, n)
		}
	}
	if len(in) < 2 {
		t.Errorf("only %d routes", len(in))
	}
}
