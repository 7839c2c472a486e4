package spread

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog/shared/testserver"
)

// Three processes make the catalogue that one makes.
func TestASpreadSurveyEqualsOneMachines(t *testing.T) {
	alone(t)
	db, _, q, run := queuedSurvey(t)
	var workers []*exec.Cmd
	for range 3 {
		workers = append(workers, startWorker(t, db.Address()))
	}
	p := finished(t, q, run.Run, time.Minute, nil)
	for _, w := range workers {
		if code := exitOf(w); code != 0 {
			t.Errorf("a worker ended with %d: %s", code, said(w))
		}
	}
	mustEqualAlone(t, q, run, p)
}

// Workers are killed at random moments and replaced, the server crashes and connections are cut;
// every route has effect once, and the catalogue is the same.
func TestNothingIsLostOrDoneTwice(t *testing.T) {
	if testing.Short() {
		t.Skip("kills processes for some seconds")
	}
	alone(t)
	db, _, q, run := queuedSurvey(t)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 1))
	var workers []*exec.Cmd
	start := func() { workers = append(workers, startWorker(t, db.Address(), slowEnv+"=80ms")) }
	start()
	start()
	nextFault, faults := time.Now().Add(300*time.Millisecond), 0
	p := finished(t, q, run.Run, 3*time.Minute, func() {
		if faults == 12 || time.Now().Before(nextFault) {
			return
		}
		faults++
		nextFault = time.Now().Add(time.Duration(100+r.IntN(500)) * time.Millisecond)
		switch faults % 6 {
		case 2:
			db.Restart(t)
		case 4:
			cutConnections(t, db)
		default:
			k := r.IntN(len(workers))
			_ = workers[k].Process.Kill()
			_ = workers[k].Wait()
			workers = append(workers[:k], workers[k+1:]...)
			start()
		}
	})
	if faults < 6 {
		t.Fatalf("only %d faults", faults)
	}
	mustEqualAlone(t, q, run, p)
	var left, batches int
	if err := q.pool.QueryRow(t.Context(), "SELECT (SELECT count(*) FROM river_job WHERE state IN ('available', 'retryable', 'scheduled')), (SELECT count(*) FROM batch WHERE done_at IS NOT NULL)").Scan(&left, &batches); err != nil {
		t.Fatal(err)
	}
	if batches != run.Jobs || left > 0 {
		t.Fatalf("%d batches of %d are done, %d jobs are left", batches, run.Jobs, left)
	}
}

// cutConnections ends every connection to a database but one.
func cutConnections(t *testing.T, db *testserver.Database) {
	t.Helper()
	conn, err := pgx.Connect(context.Background(), db.Address())
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(context.Background(), "SELECT pg_terminate_backend(pid) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()"); err != nil {
		t.Fatal(err)
	}
}

// A route that ends the process is set aside after three tries by itself; the others of its job are
// surveyed. So is one whose surveying fails each time.
func TestABadRouteIsSetAside(t *testing.T) {
	if testing.Short() {
		t.Skip("waits for lost processes")
	}
	db, s, q, run := queuedSurvey(t)
	const deadly, bad = "piece 3 of road 0", "piece 2 of road 1"
	if _, err := q.pool.Exec(t.Context(), "UPDATE route SET packed = 'no route' WHERE id = $1", bad); err != nil {
		t.Fatal(err)
	}
	var w *exec.Cmd
	starts := 0
	p := finished(t, q, run.Run, time.Minute, func() {
		if w == nil || w.ProcessState != nil {
			w = startWorker(t, db.Address(), poisonEnv+"="+deadly)
			starts++
			go func(w *exec.Cmd) { _ = w.Wait() }(w)
		}
	})
	if p.State != Finished || starts < 4 || starts > 6 {
		t.Fatalf("%d processes: %+v", starts, p)
	}
	gaps, err := q.Gaps(t.Context(), run.Run)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(gaps, "\n")
	for _, part := range []string{deadly + "\": skipped: the process", "ended 3 times without a message", bad + "\": skipped: its job cannot be read: its bytes are damaged"} {
		if !strings.Contains(text, part) {
			t.Errorf("no %q in %s", part, text)
		}
	}
	rows := rowsOf(t, s.Catalog)
	if strings.Contains(rows, deadly) || !strings.Contains(rows, "piece 2 of road 0") || !strings.Contains(rows, "piece 3 of road 1") {
		t.Error("other routes than the bad ones are missing, or a bad one is stored")
	}
}

// A machine with a wrong clock takes part: only the database's counts.
func TestAWrongClock(t *testing.T) {
	alone(t)
	db, _, q, run := queuedSurvey(t)
	ahead, behind := startWorker(t, db.Address(), skewEnv+"=3h", slowEnv+"=30ms"), startWorker(t, db.Address(), skewEnv+"=-26h", slowEnv+"=30ms")
	dead := startWorker(t, db.Address(), slowEnv+"=10m", skewEnv+"=5h")
	time.Sleep(700 * time.Millisecond)
	_ = dead.Process.Kill()
	p := finished(t, q, run.Run, time.Minute, nil)
	if a, b := exitOf(ahead), exitOf(behind); a != 0 || b != 0 || !strings.Contains(said(ahead), "clock is 3h0m0s off") || !strings.Contains(said(behind), "clock is 26h0m0s off") {
		t.Errorf("%s%s", said(ahead), said(behind))
	}
	mustEqualAlone(t, q, run, p)
}

// A worker with the rights that Grants names does everything, as a user of its own.
func TestAWorkerWithLeastRights(t *testing.T) {
	alone(t)
	db := testserver.New(t)
	s := spreadSetup(t)
	q := queueOf(t, db)
	address := workerRole(t, db, q, "survey_worker")
	run := queued(t, q, s)
	w := startWorker(t, address)
	mustEqualAlone(t, q, run, finished(t, q, run.Run, time.Minute, nil))
	if code := exitOf(w); code != 0 {
		t.Errorf("%d: %s", code, said(w))
	}
	own, err := Open(t.Context(), address, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer own.Close()
	if _, err := own.Spread(t.Context(), s); err == nil || !strings.Contains(err.Error(), "lacks a right") {
		t.Errorf("a worker may queue: %v", err)
	}
}

// workerRole makes a role that may work and nothing else, and returns the address for it.
func workerRole(t *testing.T, db *testserver.Database, q *Queue, role string) string {
	t.Helper()
	sql := append([]string{fmt.Sprintf("CREATE ROLE %s LOGIN PASSWORD 'worker'", role)}, Grants(role)...)
	for _, one := range sql {
		if _, err := q.pool.Exec(t.Context(), one); err != nil {
			t.Fatalf("%s: %v", one, err)
		}
	}
	t.Cleanup(func() {
		_, _ = q.pool.Exec(context.Background(), "DROP OWNED BY "+role+"; DROP ROLE "+role)
	})
	if err := os.WriteFile("pgpass", []byte("*:*:*:*:worker\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PGPASSFILE", "pgpass")
	return db.AddressOf(role, "")
}
