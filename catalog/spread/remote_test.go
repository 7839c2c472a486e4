package spread

import (
	"database/sql"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/survey"
)

// addressed serves the files of a folder in ranges: under /open/ to everybody, and as the bucket "hills" of
// an S3 service to who signs with its key (the signature itself is not checked).
type addressed struct {
	*httptest.Server
	asked  atomic.Int64
	last   atomic.Int64 // request that is answered; 0: all are
	folder atomic.Value
}

const storeKey = "HILLSKEY"

func newStore(t *testing.T, folder string) *addressed {
	t.Helper()
	s := &addressed{}
	s.folder.Store(folder)
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		n := s.asked.Add(1)
		top, name, _ := strings.Cut(strings.TrimPrefix(r.URL.Path, "/"), "/")
		switch {
		case s.last.Load() > 0 && n > s.last.Load():
			http.Error(w, "gone", http.StatusGone)
		case top == "hills" && !strings.HasPrefix(r.Header.Get("Authorization"), "AWS4-HMAC-SHA256 Credential="+storeKey+"/"):
			http.Error(w, "<Error><Code>AccessDenied</Code></Error>", http.StatusForbidden)
		case top != "hills" && top != "open" || name == "" || r.URL.RawQuery != "":
			http.NotFound(w, r)
		default:
			http.ServeFile(w, r, filepath.Join(s.folder.Load().(string), filepath.Base(name)))
		}
	}))
	t.Cleanup(s.Close)
	// GDAL's own settings of S3, for this process and the workers.
	for name, value := range map[string]string{"AWS_S3_ENDPOINT": strings.TrimPrefix(s.URL, "http://"), "AWS_HTTPS": "NO", "AWS_VIRTUAL_HOSTING": "FALSE", "AWS_REGION": "us-east-1",
		"AWS_ACCESS_KEY_ID": storeKey, "AWS_SECRET_ACCESS_KEY": "s3cret", "GDAL_HTTP_MAX_RETRY": "0"} {
		t.Setenv(name, value)
	}
	return s
}

// remoteSetup is spreadSetup with the terrain at an address.
func remoteSetup(t *testing.T, address func(*addressed) string) (*addressed, survey.Setup) {
	t.Helper()
	s := spreadSetup(t)
	home, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	files := newStore(t, home)
	s.Terrain, s.Raster.AllowRemote, s.Raster.RemoteTimeout = []string{address(files)}, true, 5*time.Second
	return files, s
}

var addresses = map[string]func(*addressed) string{
	"vsicurl": func(s *addressed) string { return "/vsicurl/" + s.URL + "/open/terrain.tif" },
	"vsis3":   func(*addressed) string { return "/vsis3/hills/terrain.tif" },
}

// Workers that read their terrain at an address make one machine's catalogue. One that was not allowed
// to, one without the credentials, and one that finds another raster there leave the run to others; no
// credential gets into the database.
func TestTerrainAtAnAddress(t *testing.T) {
	if testing.Short() {
		t.Skip("several surveys")
	}
	for name, address := range addresses {
		t.Run(name, func(t *testing.T) {
			files, s := remoteSetup(t, address)
			s.Catalog = "alone.gpkg"
			runAlone(t, s)
			s.Catalog = "spread.gpkg"
			db := testserver.New(t)
			q := queueOf(t, db)
			run := queued(t, q, s)
			leaves := func(want string, env ...string) {
				t.Helper()
				w := startWorker(t, db.Address(), env...)
				if code := exitOf(w); code != 1 || !strings.Contains(said(w), want) {
					t.Errorf("ended with %d, %q is not in: %s", code, want, said(w))
				}
			}
			leaves("start the worker with --remote")
			if name == "vsis3" {
				leaves("does not have its terrain here", remoteEnv+"=1", "AWS_ACCESS_KEY_ID=other")
				leaves("does not have its terrain here", remoteEnv+"=1", "AWS_ACCESS_KEY_ID=", "AWS_SECRET_ACCESS_KEY=")
			}
			other := t.TempDir()
			b, err := os.ReadFile("terrain.tif")
			if err == nil {
				err = os.WriteFile(filepath.Join(other, "terrain.tif"), append(b, 0, 0, 0), 0o600)
			}
			if err != nil {
				t.Fatal(err)
			}
			files.folder.Store(other)
			leaves("is another raster", remoteEnv+"=1")
			home, err := os.Getwd()
			if err != nil {
				t.Fatal(err)
			}
			files.folder.Store(home)
			workers := []*exec.Cmd{startWorker(t, db.Address(), remoteEnv+"=1"), startWorker(t, db.Address(), remoteEnv+"=1")}
			p := finished(t, q, run.Run, time.Minute, nil)
			for _, w := range workers {
				if code := exitOf(w); code != 0 {
					t.Errorf("a worker ended with %d: %s", code, said(w))
				}
			}
			if p.State != Finished || p.Settled != run.Routes {
				t.Fatalf("%+v", p)
			}
			mustBeSame(t, rowsOf(t, s.Catalog), rowsOf(t, "alone.gpkg"))
			var text string
			if err := q.pool.QueryRow(t.Context(), "SELECT string_agg(r::text, '') FROM run r").Scan(&text); err != nil || strings.Contains(text, storeKey) || strings.Contains(text, "s3cret") {
				t.Errorf("a credential is in the run, %v", err)
			}
		})
	}
}

// A server that goes away in mid-survey leaves gaps, named with its address: no road becomes flat.
func TestTerrainThatGoesAway(t *testing.T) {
	if testing.Short() {
		t.Skip("a survey")
	}
	files, s := remoteSetup(t, addresses["vsis3"])
	db := testserver.New(t)
	q := queueOf(t, db)
	run := queued(t, q, s)
	w := startWorker(t, db.Address(), remoteEnv+"=1", slowEnv+"=100ms")
	p := finished(t, q, run.Run, 2*time.Minute, func() {
		if p, err := q.Progress(t.Context(), run.Run); err == nil && p.Workers > 0 && files.last.Load() == 0 {
			files.last.Store(files.asked.Load() + 3) // the worker has opened the terrain, and reads a little of it
		}
	})
	if code := exitOf(w); code != 0 || p.State != Finished {
		t.Fatalf("%d: %s, %+v", code, said(w), p)
	}
	gaps, err := q.Gaps(t.Context(), run.Run)
	if err != nil {
		t.Fatal(err)
	}
	if text := strings.Join(gaps, "\n"); !strings.Contains(text, "have no known ground") && !strings.Contains(text, "the terrain could not be read under it") || len(gaps) < 3 {
		t.Errorf("%d routes, %d of %d requests answered, gaps:\n%s", run.Routes, files.last.Load(), files.asked.Load(), text)
	}
	if text := strings.Join(p.Warnings, "\n"); !strings.Contains(text, "terrain.tif: block at column") {
		t.Errorf("warnings: %s", text)
	}
	// A road that became flat would have no descents, and no gap either.
	answered := files.last.Swap(0)
	s.Catalog = "alone.gpkg"
	runAlone(t, s)
	whole := hillsByRoad(t, s.Catalog)
	same := 0
	for road, hills := range hillsByRoad(t, "spread.gpkg") {
		switch {
		case strings.Contains(strings.Join(gaps, "\n"), road+":"):
		case hills != whole[road]:
			t.Errorf("%s has no gap, but descents %q, with the terrain there %q", road, hills, whole[road])
		default:
			same++
		}
	}
	t.Logf("%d roads, %d without a gap; %d requests answered", run.Routes, same, answered)
}

// hillsByRoad are the descents of each road that is stored, with their figures.
func hillsByRoad(t *testing.T, path string) map[string]string {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro&immutable=1")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	rows, err := db.Query(`SELECT r.route, coalesce(group_concat(round(d.start_m, 1) || ' ' || round(d.drop_m, 2), '; '), '') FROM routes r LEFT JOIN descents d ON d.route_fid = r.fid GROUP BY r.route`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	out := map[string]string{}
	for rows.Next() {
		var road, hills string
		if err := rows.Scan(&road, &hills); err != nil {
			t.Fatal(err)
		}
		out[road] = hills
	}
	if len(out) < 5 {
		t.Fatalf("%d roads", len(out))
	}
	return out
}
