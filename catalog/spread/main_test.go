package spread

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/geojson"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/specimen"
	"gradeline/catalog/survey"
	"gradeline/routes"
	"gradeline/terrain"
)

// Environment of a test program that is a worker process.
const (
	workerEnv      = "GRADELINE_TEST_WORKER" // address of the queue
	slowEnv        = "GRADELINE_TEST_SLOW"   // time added to each route
	poisonEnv      = "GRADELINE_TEST_POISON" // route that ends the process
	slowAheadEnv   = "GRADELINE_TEST_SLOW_AHEAD"
	poisonAheadEnv = "GRADELINE_TEST_POISON_AHEAD" // route whose lines over several roads end the process
	skewEnv        = "GRADELINE_TEST_SKEW"         // by how much the machine's clock is ahead
	remoteEnv      = "GRADELINE_TEST_REMOTE"       // may read addresses
)

func TestMain(m *testing.M) {
	lookEvery, retryAfter, fetchEvery = 100*time.Millisecond, 200*time.Millisecond, 200*time.Millisecond
	if address := os.Getenv(workerEnv); address != "" {
		os.Exit(workerProcess(address))
	}
	os.Exit(testserver.Run(m))
}

// workerProcess is main of a worker.
func workerProcess(address string) int {
	slow, _ := time.ParseDuration(os.Getenv(slowEnv))
	poison := os.Getenv(poisonEnv)
	if skew, _ := time.ParseDuration(os.Getenv(skewEnv)); skew != 0 {
		localNow = func() time.Time { return time.Now().Add(skew) }
	}
	recoverLine = func(ctx context.Context, s terrain.Surface, r *routes.Route, o survey.Options) (survey.GradeLine, error) {
		if poison != "" && r.ID == poison {
			time.Sleep(300 * time.Millisecond) // whatever else this process has in work goes with it
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		}
		pause(ctx, slow)
		return survey.RecoverLine(ctx, s, r, o)
	}
	slowAhead, _ := time.ParseDuration(os.Getenv(slowAheadEnv))
	linesAhead = func(a *survey.Ahead, ctx context.Context, r *routes.Route, line survey.GradeLine) (map[string]survey.OnwardLine, error) {
		if p := os.Getenv(poisonAheadEnv); p != "" && p == r.ID {
			_ = syscall.Kill(os.Getpid(), syscall.SIGKILL)
		}
		pause(ctx, slowAhead)
		return a.Lines(ctx, r, line)
	}
	ctx := context.Background()
	q, err := Open(ctx, address, Options{Connections: 8})
	if err == nil {
		err = q.Work(ctx, Machine{Catalog: address, Workers: 2, UntilEmpty: true, AllowRemote: os.Getenv(remoteEnv) != "", Say: func(s string) { fmt.Fprintln(os.Stderr, s) }, BeatEvery: 200 * time.Millisecond, LostAfter: 2 * time.Second})
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return 0
}

// startWorker starts a worker process in the current folder.
func startWorker(t *testing.T, address string, env ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(self)
	cmd.Env = append(append(os.Environ(), workerEnv+"="+address), env...)
	cmd.Stderr = &bytes.Buffer{}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = cmd.Process.Kill() })
	return cmd
}

func said(cmd *exec.Cmd) string { return cmd.Stderr.(*bytes.Buffer).String() }

// demoRoads cuts the demonstration's roads into named pieces, and one of them into a network with
// side roads, so that there are many routes, junctions and continuations.
func demoRoads(t *testing.T, dir string) {
	t.Helper()
	out := geojson.NewFeatureCollection()
	add := func(line orb.LineString, tags map[string]any) {
		f := geojson.NewFeature(slices.Clone(line))
		f.Properties = tags
		out.Append(f)
	}
	for k, r := range routesOf(t, filepath.Join(dir, "routes.geojson"))[1:] {
		n := len(r.Line)
		for i := range 4 {
			from, to := i*n/5, min(n, (i+2)*n/5+1)
			add(r.Line[from:to], map[string]any{"route": fmt.Sprintf("piece %d of road %d", i, k)})
		}
		at := []int{0, n / 5, 2 * n / 5, 3 * n / 5, 4 * n / 5, n - 1}
		for i := 1; i < len(at); i++ {
			add(r.Line[at[i-1]:at[i]+1], map[string]any{"highway": "primary", "name": fmt.Sprintf("Main road %d", k)})
			side := r.Line[at[i-1]]
			add(orb.LineString{side, {side[0] + 0.004, side[1] + 0.003}, {side[0] + 0.009, side[1] + 0.004}}, map[string]any{"highway": "secondary", "name": fmt.Sprintf("Side road %d-%d", k, i)})
		}
	}
	b, err := json.Marshal(out)
	if err == nil {
		err = os.WriteFile(filepath.Join(dir, "roads.geojson"), b, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// spreadSetup is a survey in a folder of its own, which becomes the current one.
func spreadSetup(t *testing.T) survey.Setup {
	t.Helper()
	dir := demoFolder(t)
	demoRoads(t, dir)
	t.Chdir(dir)
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	return survey.Setup{Options: survey.Options{Classes: classes[:1], Units: catalog.US}, Terrain: []string{"terrain.tif"}, Roads: []string{"roads.geojson"}, Catalog: "spread.gpkg", Tool: "test",
		DrivePaths: []string{"drive.gpx"}, DrivesAreBarometric: true}
}

// alone is the same survey by one process: its catalogue and its gaps. It is made once.
func alone(t *testing.T) (rows string, gaps []string) {
	t.Helper()
	aloneOnce.Do(func() {
		s := spreadSetup(t)
		aloneGaps = runAlone(t, s)
		aloneRows = rowsOf(t, s.Catalog)
	})
	return aloneRows, aloneGaps
}

// runAlone surveys in this process and returns the gaps.
func runAlone(t *testing.T, s survey.Setup) (gaps []string) {
	t.Helper()
	j, err := survey.Begin(context.Background(), s)
	if err == nil {
		err = j.Run(context.Background())
	}
	if err != nil {
		t.Fatal(err)
	}
	for g, err := range j.Gaps() {
		if err != nil {
			t.Fatal(err)
		}
		gaps = append(gaps, g)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return gaps
}

var (
	aloneOnce sync.Once
	aloneRows string
	aloneGaps []string
)

// mustEqualAlone compares a finished run with one machine's survey.
func mustEqualAlone(t *testing.T, q *Queue, run Queued, p Progress) {
	t.Helper()
	rows, gaps := alone(t)
	if p.State != Finished || p.JobsDone != run.Jobs || p.Settled != run.Routes || run.Jobs < 6 || run.Routes < 20 {
		t.Fatalf("%+v of %+v", p, run)
	}
	mustBeSame(t, rowsOf(t, "spread.gpkg"), rows)
	got, err := q.Gaps(t.Context(), run.Run)
	if err != nil || !slices.Equal(got, gaps) {
		t.Fatalf("gaps %q, one machine's are %q, %v", got, gaps, err)
	}
}

// queueOf opens the queue of a new database, with small jobs.
func queueOf(t *testing.T, db *testserver.Database) *Queue {
	t.Helper()
	q, err := Open(context.Background(), db.Address(), Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(q.Close)
	q.batchM = 5_000
	return q
}

// queuedSurvey queues the survey of spreadSetup in a new database.
func queuedSurvey(t *testing.T) (*testserver.Database, survey.Setup, *Queue, Queued) {
	t.Helper()
	db := testserver.New(t)
	s := spreadSetup(t)
	q := queueOf(t, db)
	return db, s, q, queued(t, q, s)
}

// queued queues a survey.
func queued(t *testing.T, q *Queue, s survey.Setup) Queued {
	t.Helper()
	out, err := q.Spread(context.Background(), s)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// finished waits for the end of a run.
func finished(t *testing.T, q *Queue, run int64, wait time.Duration, also func()) Progress {
	t.Helper()
	for end := time.Now().Add(wait); ; {
		p, err := q.Progress(context.Background(), run)
		if err == nil && (p.State == Finished || p.State == Failed) {
			return p
		}
		if time.Now().After(end) {
			t.Fatalf("run %d has not ended: %+v, %v", run, p, err)
		}
		if also != nil {
			also()
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// rowsOf is every row of a catalogue, without times.
func rowsOf(t *testing.T, path string) string {
	t.Helper()
	rows, err := specimen.RowsOf(path)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// mustBeSame compares two catalogues byte for byte.
func mustBeSame(t *testing.T, got, want string) {
	t.Helper()
	if len(want) < 100_000 {
		t.Fatalf("%d bytes are not a survey", len(want))
	}
	if d := specimen.FirstDifference(got, want); d != "" {
		t.Fatalf("other than one machine's survey: %s", d)
	}
}

// exitOf waits for a worker.
func exitOf(cmd *exec.Cmd) int {
	err := cmd.Wait()
	var exit *exec.ExitError
	if errors.As(err, &exit) {
		return exit.ExitCode()
	}
	return 0
}
