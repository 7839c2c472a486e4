package spread

import (
	"context"
	"fmt"
	"os/exec"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/survey"
	"gradeline/routes/network"
	"gradeline/terrain/raster"
)

// What lines over several roads show comes back from a record to the bit, nil and empty lists apart.
func TestLinesAheadComeBack(t *testing.T) {
	s := spreadSetup(t)
	surface, err := raster.Open(context.Background(), s.Terrain, s.Raster)
	if err != nil {
		t.Fatal(err)
	}
	defer surface.Close()
	ahead, err := survey.NewAhead(context.Background(), surface, &s)
	if err != nil {
		t.Fatal(err)
	}
	lines, hills, crests := 0, 0, 0
	roads := survey.ReadRoads(s.Roads, network.Options{})
	for r, err := range roads.Routes(context.Background()) {
		if err != nil {
			t.Fatal(err)
		}
		if !roads.IsJoined() {
			continue
		}
		line, err := survey.RecoverLine(context.Background(), surface, &r, s.Options)
		if err != nil {
			t.Fatal(err)
		}
		want, err := ahead.Lines(context.Background(), &r, line)
		if err != nil {
			t.Fatal(err)
		}
		b, err := packAhead(want)
		if err != nil {
			t.Fatal(err)
		}
		got, err := unpackAhead(b)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmp.Exporter(func(reflect.Type) bool { return true })); d != "" {
			t.Fatalf("%s: %s", r.ID, d)
		}
		for _, l := range got {
			lines++
			if l.Hill != nil {
				hills++
			}
			crests += len(l.Crests)
		}
		for i := range b {
			b[i] ^= 0x10
			if _, err := unpackAhead(b); err == nil {
				t.Fatalf("%s: byte %d of a record is wrong and nothing is said", r.ID, i)
			}
			b[i] ^= 0x10
		}
	}
	if lines < 10 || hills < 3 || crests < 10 {
		t.Errorf("only %d lines, %d hills, %d crests", lines, hills, crests)
	}
}

// aheadOf is what the workers said of lines over several roads: how many there were, and how many
// were surveyed ahead.
func aheadOf(t *testing.T, workers []*exec.Cmd) (all, known int) {
	t.Helper()
	for _, w := range workers {
		for _, l := range strings.Split(said(w), "\n") {
			if n, _ := fmt.Sscanf(l, "of %d lines over several roads %d were surveyed ahead", &all, &known); n == 2 {
				return all, known
			}
		}
	}
	t.Fatal("no worker said how many lines over several roads were surveyed ahead")
	return 0, 0
}

// Lines over several roads are surveyed by all workers that have the roads, before the finishing job,
// which surveys hardly any; the catalogue is one machine's.
func TestLinesOverSeveralRoadsAreSurveyedAhead(t *testing.T) {
	db, s := testserver.New(t), spreadSetup(t)
	s.DrivePaths = nil
	s.Catalog = "alone.gpkg"
	gaps := runAlone(t, s)
	want := rowsOf(t, s.Catalog)
	s.Catalog = "spread.gpkg"
	q := queueOf(t, db)
	run := queued(t, q, s)
	workers := []*exec.Cmd{startWorker(t, db.Address()), startWorker(t, db.Address())}
	p := finished(t, q, run.Run, time.Minute, nil)
	for _, w := range workers {
		if code := exitOf(w); code != 0 {
			t.Errorf("a worker ended with %d: %s", code, said(w))
		}
	}
	mustBeSame(t, rowsOf(t, s.Catalog), want)
	got, err := q.Gaps(t.Context(), run.Run)
	if err != nil || !slices.Equal(got, gaps) {
		t.Errorf("gaps %q, one machine's are %q, %v", got, gaps, err)
	}
	if p.AheadJobs < 2 || p.AheadDone != p.AheadJobs {
		t.Errorf("%d of %d jobs of lines over several roads are done", p.AheadDone, p.AheadJobs)
	}
	if all, known := aheadOf(t, workers); all < 10 || known < all*9/10 {
		t.Errorf("of %d lines over several roads %d were surveyed ahead", all, known)
	}
}

// Records that are missing or of other lines change nothing: the finishing job surveys such lines
// itself.
func TestWithoutLinesAheadTheSurveyIsTheSame(t *testing.T) {
	alone(t)
	db, _, q, run := queuedSurvey(t)
	if _, err := q.pool.Exec(t.Context(), `CREATE FUNCTION drop_some() RETURNS trigger LANGUAGE plpgsql AS $$
		BEGIN IF NEW.seq % 2 = 0 THEN RETURN NULL; END IF; RETURN NEW; END $$;
		CREATE TRIGGER drop_some BEFORE INSERT ON ahead FOR EACH ROW EXECUTE FUNCTION drop_some()`); err != nil {
		t.Fatal(err)
	}
	w := startWorker(t, db.Address())
	mustEqualAlone(t, q, run, finished(t, q, run.Run, time.Minute, nil))
	if code := exitOf(w); code != 0 {
		t.Errorf("%d: %s", code, said(w))
	}
	if all, known := aheadOf(t, []*exec.Cmd{w}); known == 0 || known == all {
		t.Errorf("of %d lines over several roads %d were surveyed ahead, not some", all, known)
	}
}

// Workers are killed, the server crashes and connections are cut while lines over several roads are
// surveyed: what is not done by then is done again, and has effect once.
func TestNothingIsLostAhead(t *testing.T) {
	if testing.Short() {
		t.Skip("kills processes for some seconds")
	}
	alone(t)
	db, _, q, run := queuedSurvey(t)
	var workers []*exec.Cmd
	start := func() { workers = append(workers, startWorker(t, db.Address(), slowAheadEnv+"=150ms")) }
	start()
	start()
	faults, next := 0, time.Now()
	p := finished(t, q, run.Run, 3*time.Minute, func() {
		p, err := q.Progress(t.Context(), run.Run)
		if err != nil || p.AheadDone == p.AheadJobs || p.JobsDone < p.Jobs || faults == 6 || time.Now().Before(next) {
			return
		}
		faults++
		next = time.Now().Add(400 * time.Millisecond)
		switch faults % 3 {
		case 1:
			_ = workers[0].Process.Kill()
			_ = workers[0].Wait()
			workers = workers[1:]
			start()
		case 2:
			db.Restart(t)
		default:
			cutConnections(t, db)
		}
	})
	if faults < 3 {
		t.Fatalf("only %d faults", faults)
	}
	mustEqualAlone(t, q, run, p)
	if p.AheadDone != p.AheadJobs {
		t.Errorf("%+v", p)
	}
}

// A route whose lines over several roads end the process, or fail, costs the run three tries of its
// batch; then the finishing job is on its own with them.
func TestLinesAheadThatCannotBeSurveyed(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for lost processes")
	}
	alone(t)
	db, _, q, run := queuedSurvey(t)
	var deadly string
	if err := q.pool.QueryRow(t.Context(), "SELECT id FROM route WHERE is_joined ORDER BY length_m DESC LIMIT 1").Scan(&deadly); err != nil {
		t.Fatal(err)
	}
	var w *exec.Cmd
	starts := 0
	p := finished(t, q, run.Run, 2*time.Minute, func() {
		if w == nil || w.ProcessState != nil {
			w = startWorker(t, db.Address(), poisonAheadEnv+"="+deadly)
			starts++
			go func(w *exec.Cmd) { _ = w.Wait() }(w)
		}
	})
	if starts < mostAheadTries+1 {
		t.Errorf("only %d processes: the lines of %s did not end one", starts, deadly)
	}
	mustEqualAlone(t, q, run, p)
}

// Tables of the queue's first version are brought up to date by who queues; a worker that may not
// says what is to be done.
func TestOlderTablesAreBroughtUp(t *testing.T) {
	db := testserver.New(t)
	q := queueOf(t, db)
	for _, sql := range []string{"DROP TABLE ahead", "ALTER TABLE run DROP ahead_at", "ALTER TABLE route DROP is_joined", "ALTER TABLE batch DROP is_joined, DROP ahead_at", "DELETE FROM layout WHERE version = 2"} {
		if _, err := q.pool.Exec(t.Context(), sql); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
	if _, err := Open(t.Context(), db.Address(), Options{}); err == nil || !strings.Contains(err.Error(), "is of version 1") || !strings.Contains(err.Error(), "queue a survey with this program") {
		t.Errorf("older tables: %v", err)
	}
	again := queueOf(t, db)
	run := queued(t, again, spreadSetup(t))
	if p, err := again.Progress(t.Context(), run.Run); err != nil || p.AheadJobs == 0 {
		t.Errorf("%+v, %v", p, err)
	}
	if _, err := q.pool.Exec(t.Context(), "INSERT INTO layout (version) VALUES (3)"); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(t.Context(), db.Address(), Options{Create: true}); err == nil || !strings.Contains(err.Error(), "run the same version") {
		t.Errorf("newer tables: %v", err)
	}
}
