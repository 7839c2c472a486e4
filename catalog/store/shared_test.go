package store

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared/testserver"
)

// inDatabase is the address of an empty database; the local copies are in a folder of the test.
func inDatabase(t testing.TB) *testserver.Database {
	t.Helper()
	db := testserver.New(t)
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	return db
}

// freshShared is a new catalogue in a database of its own.
func freshShared(t testing.TB) (*Catalog, *testserver.Database) {
	t.Helper()
	db := inDatabase(t)
	return openAt(t, db.Address(), Options{Create: true}), db
}

func openAt(t testing.TB, path string, o Options) *Catalog {
	t.Helper()
	o.Tool, o.Now = "gradeline test", clock
	c, err := Open(ctx, path, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	return c
}

// allRows are the rows of every table, as they are stored.
func allRows(t testing.TB, c *Catalog) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		for _, l := range gpkg.Layout() {
			list := ""
			for _, col := range l.Columns {
				list += ", +" + col.Name
			}
			err := q.Direct().Each("SELECT "+list[2:]+" FROM "+l.Name+" ORDER BY fid", q.Direct().Args(), func(row []driver.Value) error {
				out[l.Name] = append(out[l.Name], fmt.Sprintf("%#v", row))
				return nil
			})
			if err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func sameRows(t testing.TB, what string, got, want map[string][]string) {
	t.Helper()
	for _, l := range gpkg.Layout() {
		if l.Name == "catalogue" {
			continue
		}
		if len(got[l.Name]) != len(want[l.Name]) {
			t.Errorf("%s: table %s: %d rows of %d", what, l.Name, len(got[l.Name]), len(want[l.Name]))
			continue
		}
		for i, row := range got[l.Name] {
			if row != want[l.Name][i] {
				t.Errorf("%s: table %s, row %d:\n%.600s\nwant\n%.600s", what, l.Name, i, row, want[l.Name][i])
				break
			}
		}
	}
}

// Everything that a catalogue can hold is stored in the database by the statements that store it in
// a file, and a copy that is made anew from the database has the same rows.
func TestSharedCopiesAgree(t *testing.T) {
	c, db := freshShared(t)
	fillEveryTable(t, c)
	want := allRows(t, c)
	c.Close()
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	other := openAt(t, db.Address(), Options{ReadOnly: true})
	sameRows(t, "copied from the database", allRows(t, other), want)
	for table, rows := range want {
		if n := db.Ask(t, "SELECT count(*) FROM gradeline."+table); n != fmt.Sprint(len(rows)) {
			t.Errorf("table %s: %s rows in the database, %d in the copy", table, n, len(rows))
		}
	}
	e, err := other.Descent(ctx, "r-f-1.0")
	if err != nil || e.Review.State != catalog.Approved {
		t.Errorf("%v, %v", e.Review, err)
	}
}

// A complete catalogue goes into a database and back into a file with every row of every table the
// same, drives, network and the highest keys with it.
func TestSharedThereAndBack(t *testing.T) {
	db := inDatabase(t)
	c, _ := fresh(t)
	fillEveryTable(t, c)
	want, keys := allRows(t, c), lastKeys(t, c)
	if err := c.CopyTo(ctx, db.Address()); err != nil {
		t.Fatal(err)
	}
	there := openAt(t, db.Address(), Options{})
	sameRows(t, "in the database", allRows(t, there), want)
	back := filepath.Join(t.TempDir(), "back.gpkg")
	if err := there.CopyTo(ctx, back); err != nil {
		t.Fatal(err)
	}
	b := openAt(t, back, Options{})
	sameRows(t, "back", allRows(t, b), want)
	if got := allRows(t, b)["catalogue"]; !slices.Equal(got, want["catalogue"]) {
		t.Errorf("catalogue: %v, want %v", got, want["catalogue"])
	}
	if got := lastKeys(t, b); !maps.Equal(got, keys) {
		t.Errorf("highest keys %v, want %v", got, keys)
	}
	if found, err := b.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
	if err := c.CopyTo(ctx, db.Address()); !errors.Is(err, ErrWrite) {
		t.Errorf("over another catalogue: %v", err)
	}
}

func lastKeys(t testing.TB, c *Catalog) (keys map[string]int64) {
	t.Helper()
	err := c.file.Read(ctx, func(q gpkg.Querier) (err error) { keys, err = gpkg.LastKeys(q); return err })
	if err != nil {
		t.Fatal(err)
	}
	delete(keys, "catalogue")
	for _, own := range []string{"gpkg_metadata", "gpkg_ogr_contents"} {
		delete(keys, own)
	}
	return keys
}

// A part of a catalogue goes into a database as it goes into a file, and merges go both ways.
func TestSharedPartsAndMerges(t *testing.T) {
	db := inDatabase(t)
	c, _ := fresh(t)
	fillEveryTable(t, c)
	file := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := c.Subset(ctx, file, Filter{}, SubsetOptions{By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	n, err := c.Subset(ctx, db.Address(), Filter{}, SubsetOptions{By: "Ada"})
	if err != nil || n != 2 {
		t.Fatalf("%d descents, %v", n, err)
	}
	part, there := openAt(t, file, Options{}), openAt(t, db.Address(), Options{})
	sameRows(t, "a part", allRows(t, there), allRows(t, part))

	// Another road is merged from a file into the database and into the file; then the database
	// into an empty file.
	other, _ := fresh(t)
	save(t, other, survey("west", 3), SaveOptions{})
	if err := other.Review(ctx, "west-f-1.0", catalog.Review{State: catalog.FieldChecked, By: "Bea", Note: "driven"}); err != nil {
		t.Fatal(err)
	}
	keepDrives(t, other, drivePass(1, "west", 900, 800))
	for _, into := range []*Catalog{part, there} {
		if r, err := Merge(ctx, into, other, MergeOptions{By: "Ada"}); err != nil || len(r.Added) != 3 || len(r.Drives) != 1 {
			t.Fatalf("%+v, %v", r, err)
		}
	}
	got, want := allRows(t, there), allRows(t, part)
	delete(got, "drives") // their numbers are random
	delete(want, "drives")
	sameRows(t, "merged", got, want)
	empty, _ := fresh(t)
	r, err := Merge(ctx, empty, there, MergeOptions{By: "Ada"})
	if err != nil || len(r.Added) != 5 || len(r.Renamed) > 0 {
		t.Fatalf("%+v, %v", r, err)
	}
	es, err := empty.Descents(ctx, Filter{})
	if err != nil || len(es) != 5 {
		t.Fatalf("%d descents, %v", len(es), err)
	}
	h, err := empty.History(ctx, "west-f-1.0")
	if err != nil || !slices.ContainsFunc(h, func(e Event) bool { return e.By == "Bea" && strings.Contains(e.Words, "driven") }) {
		t.Errorf("history %+v, %v", h, err)
	}
}

// offices are several openings of one catalogue, each with its own local copy, as on machines of
// their own.
func offices(t testing.TB, address string, n int, o Options) []*Catalog {
	t.Helper()
	var out []*Catalog
	for range n {
		t.Setenv("XDG_CACHE_HOME", t.TempDir())
		out = append(out, openAt(t, address, o))
	}
	return out
}

// Offices review the same descents at once, each on what its own copy shows. Every review that is
// taken is in the history of all, once and in the same order; every other one was refused and told
// who was faster. Nothing is lost, and all copies are the same in the end.
func TestSharedReviewsAtOnce(t *testing.T) {
	const writers, tries = 4, 75
	c, db := freshShared(t)
	save(t, c, survey("r", 2), SaveOptions{})
	all := offices(t, db.Address(), writers, Options{BusyTimeout: time.Minute})
	var mu sync.Mutex
	taken, refused := map[string]string{}, 0
	var wg sync.WaitGroup
	for w, office := range all {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range tries {
				id, note := []string{"r-f-1.0", "r-f-11.0"}[i%2], fmt.Sprintf("look %d of office %d", i, w)
				version, err := office.Version(ctx, id)
				if err == nil {
					err = office.Decide(ctx, id, Decision{Version: &version, Review: catalog.Review{State: catalog.FieldChecked, By: fmt.Sprintf("office %d", w), Note: note}})
				}
				var overtaken *OvertakenError
				mu.Lock()
				switch {
				case err == nil:
					taken[note] = id
				case errors.As(err, &overtaken) && len(overtaken.Since) > 0 && overtaken.Since[0].By != "":
					refused++
				default:
					t.Errorf("%s: %v", note, err)
				}
				mu.Unlock()
			}
		}()
	}
	wg.Wait()
	if len(taken)+refused != writers*tries || len(taken) < tries || refused == 0 {
		t.Errorf("%d taken and %d refused of %d", len(taken), refused, writers*tries)
	}
	t.Logf("%d taken, %d refused of %d", len(taken), refused, writers*tries)
	last := openAt(t, db.Address(), Options{})
	want := allRows(t, last)
	seen := map[string]int{}
	for _, id := range []string{"r-f-1.0", "r-f-11.0"} {
		h, err := last.History(ctx, id)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range h {
			if e.What == "review" {
				note := strings.TrimPrefix(e.Words, "field-checked; ")
				if seen[note]++; taken[note] != id || seen[note] > 1 {
					t.Errorf("%q is in the history of %s %d times", note, id, seen[note])
				}
			}
		}
	}
	if len(seen) != len(taken) {
		t.Errorf("%d reviews in the history, %d were taken", len(seen), len(taken))
	}
	for i, office := range all {
		if err := office.file.Change(ctx, func() error { return nil }); err != nil {
			t.Fatal(err)
		}
		sameRows(t, fmt.Sprint("office ", i), allRows(t, office), want)
	}
}

// Surveys of several offices are stored at once: every road is there, with keys and ids of its own.
func TestSharedSurveysAtOnce(t *testing.T) {
	const writers, roads = 3, 6
	c, db := freshShared(t)
	all := offices(t, db.Address(), writers, Options{BusyTimeout: time.Minute})
	var wg sync.WaitGroup
	for w, office := range all {
		wg.Add(1)
		go func() {
			defer wg.Done()
			s := office.BeginSurvey(SaveOptions{By: "tester", RoutesPerCommit: 2})
			for i := range roads {
				if _, err := s.Save(ctx, survey(fmt.Sprintf("w%d-%d", w, i), 2)); err != nil {
					t.Error(err)
					return
				}
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
		}()
	}
	wg.Wait()
	if err := c.file.Change(ctx, func() error { return nil }); err != nil {
		t.Fatal(err)
	}
	es, err := c.Descents(ctx, Filter{})
	if err != nil || len(es) != 2*writers*roads {
		t.Errorf("%d descents of %d, %v", len(es), 2*writers*roads, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
}
