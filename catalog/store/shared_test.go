package store

import (
	"database/sql/driver"
	"errors"
	"fmt"
	"maps"
	"path/filepath"
	"slices"
	"strings"
	"testing"

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
