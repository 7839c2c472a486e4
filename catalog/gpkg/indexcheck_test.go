package gpkg

import (
	"errors"
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
	fewer := "PRAGMA writable_schema = ON; UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'sites_route') WHERE name = 'sqlite_autoindex_holds_1'"
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
