package spread

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"gradeline/catalog/shared"
	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/routes"
)

// Rate and time left count from the beginning of the first job, not from its end: two jobs of ten
// seconds that are done have their lengths in ten seconds.
func TestRateAndTimeLeft(t *testing.T) {
	db, _, q, run := queuedSurvey(t)
	progress := func() Progress {
		t.Helper()
		p, err := q.Progress(t.Context(), run.Run)
		if err != nil {
			t.Fatal(err)
		}
		return p
	}
	if p := progress(); p.RateMPS != 0 || p.TimeLeftS != 0 || p.State != Waiting {
		t.Errorf("before any work: %+v", p)
	}
	db.Ask(t, "UPDATE gradeline_queue.river_job SET attempted_at = now() - interval '10 s' WHERE (args->>'batch')::int < 2; UPDATE gradeline_queue.batch SET done_at = now() WHERE batch < 2;"+
		"INSERT INTO gradeline_queue.worker (id, host, run) SELECT 'lives', '', id FROM gradeline_queue.run UNION SELECT 'dead', '', id FROM gradeline_queue.run; UPDATE gradeline_queue.worker SET seen_at = now() - interval '35 s' WHERE id = 'dead'")
	p := progress()
	if p.DoneM <= 0 || p.JobsDone != 2 || math.Abs(p.RateMPS-p.DoneM/10) > 0.2*p.DoneM/10 || math.Abs(p.TimeLeftS*p.RateMPS-(p.LengthM-p.DoneM)) > 1 {
		t.Errorf("%.0f m in 10 s: %.1f m/s, %.1f s left of %.0f m", p.DoneM, p.RateMPS, p.TimeLeftS, p.LengthM)
	}
	if p.Workers != 1 || p.State != Working {
		t.Errorf("%d workers, %s", p.Workers, p.State)
	}
	db.Ask(t, "UPDATE gradeline_queue.river_job SET attempted_at = now() - interval '10 min' WHERE (args->>'batch')::int < 2; UPDATE gradeline_queue.batch SET done_at = now() - interval '9 min' WHERE batch < 2")
	if p := progress(); p.RateMPS != 0 || p.TimeLeftS != 0 {
		t.Errorf("nothing was done for nine minutes: %.1f m/s, %.1f s left", p.RateMPS, p.TimeLeftS)
	}
}

// A survey that ends for a reason of its own keeps that reason, though the questions to the queue that
// it then breaks off fail too; an error of the queue ends it.
func TestTheReasonOfAFailedFinishIsKept(t *testing.T) {
	_, _, q, run := queuedSurvey(t)
	f := &finishWorker{runner: &runner{q: q}, run: &openRun{id: run.Run}}
	var aborted error
	lines := f.gradeLines(func(err error) { aborted = err })
	ended, end := context.WithCancel(t.Context())
	end()
	road := routesOf(t, "roads.geojson")[0]
	if _, err := lines(ended, &road); err == nil || aborted != nil {
		t.Errorf("%v; aborted: %v", err, aborted)
	}
	if _, err := lines(t.Context(), &routes.Route{ID: "not queued"}); err == nil || aborted == nil || !strings.Contains(aborted.Error(), "not queued") {
		t.Errorf("%v; aborted: %v", err, aborted)
	}
}

// The queue's address may be the catalogue's with its schema. Queueing makes the catalogue, which
// workers may not; where the user may not either, nothing is queued.
func TestQueueingMakesTheCatalogue(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	db := testserver.New(t)
	s := spreadSetup(t)
	s.Catalog = db.Address() + "&schema=west"
	q, err := Open(t.Context(), s.Catalog, Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	run := queued(t, q, s)
	elsewhere := db.Address() + "&schema=other"
	if _, err := shared.Make(t.Context(), elsewhere, "test"); err != nil {
		t.Fatal(err)
	}
	for _, address := range []string{elsewhere, db.Address() + "&schema=none"} {
		if words, err := worksUntilEmpty(t, q, Machine{Catalog: address}); err == nil || !strings.Contains(words, "schema=") || !strings.Contains(words, "finished on other machines") {
			t.Errorf("a worker with another catalogue finishes the run: %s", words)
		}
	}
	if words, err := worksUntilEmpty(t, q, Machine{Catalog: s.Catalog}); err != nil {
		t.Errorf("%v: %s", err, words)
	}
	if p, err := q.Progress(t.Context(), run.Run); err != nil || p.State != Finished {
		t.Errorf("%+v, %v", p, err)
	}
	if n := db.Ask(t, "SELECT (SELECT count(*) FROM other.routes) || ' ' || (SELECT count(*) > 5 FROM west.routes)"); n != "0 true" {
		t.Errorf("routes: %s", n)
	}
	cat, err := store.Open(t.Context(), s.Catalog, store.Options{ReadOnly: true})
	if err == nil {
		err = cat.Close()
	}
	if err != nil {
		t.Error(err)
	}
	s.Catalog = strings.Replace(workerRole(t, db, q, "no_maker"), "postgres://", "POSTGRES://", 1) + "&schema=east"
	_, err = q.Spread(t.Context(), s)
	if !errors.Is(err, store.ErrWrite) || !strings.Contains(err.Error(), `"no_maker" may not make one`) || !strings.Contains(err.Error(), "GRANT CREATE") {
		t.Errorf("%v", err)
	}
	if n := db.Ask(t, "SELECT count(*) FROM gradeline_queue.run"); n != "1" {
		t.Errorf("%s runs", n)
	}
}

// A catalogue's name that was meant as an address, with its password, is not stored in a run.
func TestAMistypedAddressIsNotStored(t *testing.T) {
	for _, name := range []string{"postgress://ada:rook7@db/hills", "postgres:/ada:rook7@db/hills"} {
		err := checkSpread(&survey.Setup{Terrain: []string{"t"}, Roads: []string{"r"}, Catalog: name})
		if err == nil || strings.Contains(err.Error(), "rook7") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := checkSpread(&survey.Setup{Terrain: []string{"t"}, Roads: []string{"r"}, Catalog: "hills.gpkg"}); err != nil {
		t.Error(err)
	}
}
