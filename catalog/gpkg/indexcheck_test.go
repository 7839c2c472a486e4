package gpkg

import (
	"database/sql"
	"errors"
	"slices"
	"strings"
	"testing"

	"gradeline/terrain"
)

// Entries are compared one by one, in a large file counted; a changed file is compared
// anew, an unchanged one is not.
func TestIndexesAreCompared(t *testing.T) {
	good := withRows(t)
	check := func(t *testing.T, path, layer string) error {
		t.Helper()
		c, err := Open(ctx, path, Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer c.Close()
		return c.Read(ctx, func(q Querier) error { return CheckIndexes(q, layer) })
	}
	fewer := "PRAGMA writable_schema = ON; UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'sites_route') WHERE name = 'holds_class'"
	for _, tc := range []struct {
		name, sql, layer string
		large, noticed   bool
	}{
		{"sound", "SELECT 1", "descents", false, false},
		{"sound and large", "SELECT 1", "descents", true, false},
		{"fewer entries", fewer, "", false, true},
		{"fewer entries of a large file", fewer, "", true, true},
		{"spatial index", "DELETE FROM rtree_sites_geom", "sites", true, true},
		{"spatial index not asked for", "DELETE FROM rtree_sites_geom", "descents", true, false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, tc.sql)
			if tc.large {
				defer func(n int64) { largestChecked = n }(largestChecked)
				largestChecked = 0
			}
			if err := check(t, path, tc.layer); errors.Is(err, terrain.ErrRead) != tc.noticed || err != nil && !tc.noticed {
				t.Errorf("%v", err)
			}
		})
	}
	path := copyFile(t, good)
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	read := func() error { return c.Read(ctx, func(q Querier) error { return CheckIndexes(q, "descents") }) }
	if err := errors.Join(read(), read()); err != nil {
		t.Fatal(err)
	}
	spoil(t, path, "DELETE FROM rtree_descents_geom")
	if err := read(); !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), "0 entries for 2 features") {
		t.Errorf("changed meanwhile: %v", err)
	}
}

// A reader takes over what another has compared, until the file is changed; then the damage is
// noticed by whichever reads first, and by all others.
func TestComparisonOfIndexesIsShared(t *testing.T) {
	path := copyFile(t, withRows(t))
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	read := func() (compared []bool, failed []error) { return comparedByThree(t, c) }
	compared, failed := read()
	if err := errors.Join(failed...); err != nil {
		t.Fatal(err)
	}
	if !compared[0] || !compared[1] || compared[2] {
		t.Errorf("compared by %v: want the first, for itself, the second, for all later ones, and not the third", compared)
	}
	spoil(t, path, "UPDATE gpkg_contents SET description = description")
	if _, failed = read(); errors.Join(failed...) != nil {
		t.Errorf("after a sound change: %v", failed)
	}
	spoil(t, path, "DELETE FROM rtree_descents_geom")
	if _, failed = read(); !errors.Is(failed[0], terrain.ErrRead) || !errors.Is(failed[1], terrain.ErrRead) || !errors.Is(failed[2], terrain.ErrRead) {
		t.Errorf("after the damage: %v", failed)
	}
}

// Beside a write-ahead log a reader's state may be an older one, so each compares for itself.
func TestComparisonOfIndexesIsNotSharedBesideALog(t *testing.T) {
	path := copyFile(t, withRows(t))
	other, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	for _, s := range []string{"PRAGMA journal_mode = WAL", "UPDATE gpkg_contents SET description = description"} {
		if _, err := other.Exec(s); err != nil {
			t.Fatal(err)
		}
	}
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	compared, failed := comparedByThree(t, c)
	if errors.Join(failed...) != nil || slices.Contains(compared, false) {
		t.Errorf("compared by %v, %v", compared, failed)
	}
}

// comparedByThree has three readers at once, so that each has its own connection, ask for a
// comparison, and says which of them compared.
func comparedByThree(t *testing.T, c *File) (compared []bool, failed []error) {
	t.Helper()
	err := c.Read(ctx, func(q1 Querier) error {
		return c.Read(ctx, func(q2 Querier) error {
			return c.Read(ctx, func(q3 Querier) error {
				for _, q := range []Querier{q1, q2, q3} {
					failed = append(failed, CheckIndexes(q, "descents"))
					compared = append(compared, q.(*reader).d.stmts["PRAGMA integrity_check(descents)"] != nil)
				}
				return nil
			})
		})
	})
	if err != nil {
		t.Fatal(err)
	}
	return compared, failed
}
