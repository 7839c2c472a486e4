package store

import (
	"errors"
	"strings"
	"testing"

	"gradeline/terrain"
)

// A box, a list and a look-up notice an index that disagrees with its table, and never
// answer that there is nothing; a repair brings the answer back.
func TestDamagedIndexesAreNoticed(t *testing.T) {
	c, good := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	approve(t, c, "kestrel-road-f-1.0")
	c.Close()
	for name, sql := range map[string]string{
		"R-tree emptied":           "DELETE FROM rtree_descents_geom",
		"R-tree lacks one":         "DELETE FROM rtree_descents_geom WHERE id = 2",
		"R-tree shifted":           "UPDATE rtree_descents_geom SET minx = minx + 1, maxx = maxx + 1",
		"R-tree shrunk":            "UPDATE rtree_descents_geom SET maxx = minx",
		"R-tree has one too many":  "INSERT INTO rtree_descents_geom VALUES (99, 1, 2, 1, 2)",
		"R-tree, a row of nodes":   "DELETE FROM rtree_descents_geom_rowid WHERE rowid = 2",
		"order of danger emptied":  "PRAGMA writable_schema = ON; UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'history_descent') WHERE name = 'descents_danger'",
		"ids emptied":              "PRAGMA writable_schema = ON; UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'sites_route') WHERE name = 'sqlite_autoindex_descents_1'",
		"holds by descent emptied": "PRAGMA writable_schema = ON; UPDATE sqlite_master SET rootpage = (SELECT rootpage FROM sqlite_master WHERE name = 'sites_route') WHERE name = 'sqlite_autoindex_holds_1'",
	} {
		t.Run(name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, sql)
			c, err := Open(ctx, path, Options{ReadOnly: true})
			if err != nil {
				t.Fatal(err)
			}
			filter := Filter{BBox: &Box{-180, -90, 180, 90}}
			list, err := c.Descents(ctx, filter)
			if !errors.Is(err, terrain.ErrRead) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "--repair") {
				t.Errorf("a box: %d descents, %v", len(list), err)
			}
			if !strings.HasPrefix(name, "R-tree") {
				if list, err := c.Descents(ctx, Filter{}); !errors.Is(err, terrain.ErrRead) {
					t.Errorf("the list: %d descents, %v", len(list), err)
				}
				if _, err := c.Descent(ctx, "kestrel-road-f-1.0"); !errors.Is(err, terrain.ErrRead) {
					t.Errorf("one: %v", err)
				}
				if _, err := c.Queue(ctx); !errors.Is(err, terrain.ErrRead) {
					t.Errorf("the queue: %v", err)
				}
			}
			c.Close()
			if strings.Contains(sql, "rootpage") {
				return // two indexes in one place: only a person's copy helps
			}
			r, err := RepairFile(ctx, path, "Ada", Options{})
			if err != nil || len(r.Left) != 0 || len(r.Findings) == 0 {
				t.Fatalf("repair: %+v, %v", r, err)
			}
			c = open(t, path)
			if list, err = c.Descents(ctx, filter); err != nil || len(list) != 3 {
				t.Errorf("repaired: %d descents, %v", len(list), err)
			}
		})
	}
}
