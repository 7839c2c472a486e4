package store

import (
	"database/sql/driver"
	"fmt"
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
