package serve

import (
	"context"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/spread"
	"gradeline/catalog/survey"
	"gradeline/data"
)

// The page shows nothing of surveys over several machines until a database has a queue, then each of
// them: waiting, its failures, finished and failed.
func TestSpreadSurveysOnThePage(t *testing.T) {
	db := testserver.New(t)
	board := spread.NewBoard(db.Address())
	defer board.Close()
	o := newOffice(t)
	o.server.spread = &spreadRuns{status: board.Status}
	shows := func(want ...string) {
		t.Helper()
		body := o.page("/machines")
		for _, part := range want {
			if !strings.Contains(body, part) {
				t.Errorf("no %q in %s", part, body)
			}
		}
	}
	if status, body := o.asked(o.client, http.MethodGet, "/machines", nil, nil); status != http.StatusNotFound || !strings.Contains(body, "has no surveys over several machines") {
		t.Errorf("without a queue: %d %s", status, body)
	}
	if body := o.page("/"); strings.Contains(body, `href="/machines"`) {
		t.Error("a link without a queue")
	}

	q, err := spread.Open(t.Context(), db.Address(), spread.Options{Create: true, Connections: 8})
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	shows("No survey is queued or in work.")
	dir := filepath.Join(t.TempDir(), "example")
	demo, err := fs.Sub(data.Files, "demo")
	if err == nil {
		err = os.CopyFS(dir, demo)
	}
	if err != nil {
		t.Fatal(err)
	}
	t.Chdir(dir)
	run, err := q.Spread(t.Context(), survey.Setup{Options: survey.Options{Classes: o.server.opt.Classes[:1], Units: catalog.Metric}, Terrain: []string{"terrain.tif"}, Roads: []string{"routes.geojson"}, Catalog: "far.gpkg", Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	shows("run 1: waiting; 0 of ", "no worker takes part", `data-moving="1"`, "<progress")
	db.Ask(t, "UPDATE gradeline_queue.route SET tries = 1, problem = 'odd' WHERE seq = 0")
	shows("1 routes failed and are tried again")
	db.Ask(t, "INSERT INTO gradeline_queue.grade_line (run, seq, failed) VALUES (1, 1, '<b>bold</b>')")
	shows("1 routes are set aside", "&lt;b&gt;bold&lt;/b&gt;")
	db.Ask(t, "DELETE FROM gradeline_queue.grade_line; UPDATE gradeline_queue.route SET tries = 0")
	if err := q.Work(t.Context(), spread.Machine{Workers: 2, UntilEmpty: true}); err != nil {
		t.Fatal(err)
	}
	shows("run 1: finished; 3 of 3 routes surveyed")
	db.Ask(t, "UPDATE gradeline_queue.run SET finished_at = NULL, failed_at = now(), problem = 'the disk is full'")
	shows("run 1: failed; the disk is full")
	o.server.spread.lookAt = time.Time{}
	if body := o.page("/review"); !strings.Contains(body, `href="/machines"`) {
		t.Errorf("no link: %s", body)
	}
	if got := db.Ask(t, "SELECT routes FROM gradeline_queue.run"); got != "3" || run.Routes != 3 {
		t.Errorf("%s routes, %+v", got, run)
	}

	db.Halt()
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Second)
	defer cancel()
	if _, err := board.Status(ctx); err == nil || !strings.Contains(err.Error(), "the queue of surveys cannot be read") {
		t.Errorf("a server that is away: %v", err)
	}
	db.Resume(t)
	if list, err := board.Status(t.Context()); err != nil || len(list) != 1 {
		t.Errorf("the server is back: %v, %v", list, err)
	}
}
