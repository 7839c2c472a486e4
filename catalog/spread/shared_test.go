package spread

import (
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"gradeline/catalog/shared"
	"gradeline/catalog/shared/testserver"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
)

// ids are those of a catalogue itself, which are drawn.
var ids = regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}`)

// sharedRows are the rows of a catalogue in a database, from its local copy.
func sharedRows(t *testing.T, address string) string {
	t.Helper()
	cat, err := store.Open(t.Context(), address, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	path := cat.LocalPath()
	if err := cat.Close(); err != nil {
		t.Fatal(err)
	}
	rows := ids.ReplaceAllString(rowsOf(t, path), "ID")
	for _, table := range []string{"shared_copy"} { // where the copy comes from and how far it is
		before, after, ok := strings.Cut(rows, "\n"+table+"\n")
		if ok {
			_, after, _ = strings.Cut(after, "\n")
			rows = before + "\n" + after
		}
	}
	return rows
}

// One database holds queue and catalogue; workers of users of their own, who may take part and store
// surveys and nothing else, make the catalogue that one machine makes.
func TestASpreadSurveyIntoADatabase(t *testing.T) {
	if testing.Short() {
		t.Skip("surveys into two databases")
	}
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	s := spreadSetup(t)
	single, db := testserver.New(t), testserver.New(t)
	s.Catalog = single.Address()
	j, err := survey.Begin(t.Context(), s)
	if err == nil {
		err = j.Run(t.Context())
	}
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	want := sharedRows(t, s.Catalog)

	s.Catalog = db.Address()
	q := queueOf(t, db)
	run := queued(t, q, s) // makes the catalogue
	health, err := shared.Examine(t.Context(), s.Catalog)
	if err != nil {
		t.Fatal(err)
	}
	var workers []*exec.Cmd
	var addresses []string
	for k := range 2 {
		role := fmt.Sprintf("worker_%d", k)
		addresses = append(addresses, workerRole(t, db, q, role))
		for _, r := range health.Rights {
			for _, one := range r.Statements {
				if r.Role != "surveyor" {
					continue
				}
				db.Ask(t, strings.Replace(one, "TO surveyor", "TO "+role, 1))
			}
		}
	}
	for _, a := range addresses {
		workers = append(workers, startWorker(t, a))
	}
	p := finished(t, q, run.Run, time.Minute, nil)
	for _, w := range workers {
		if code := exitOf(w); code != 0 {
			t.Errorf("a worker ended with %d: %s", code, said(w))
		}
	}
	if p.State != Finished || p.Settled != run.Routes || p.CatalogFile != "" {
		t.Fatalf("%+v", p)
	}
	mustBeSame(t, sharedRows(t, s.Catalog), want)
	var text string
	if err := q.pool.QueryRow(t.Context(), "SELECT string_agg(r::text, '') FROM run r").Scan(&text); err != nil || strings.Contains(text, "office@") || strings.Contains(text, db.Host()) {
		t.Errorf("the database's address is in the run, %v", err)
	}
}
