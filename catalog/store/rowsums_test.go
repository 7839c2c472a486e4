package store

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// readers are ways to read a catalogue, by name.
var readers = map[string]func(c *Catalog, dir string) error{
	"list":      func(c *Catalog, _ string) error { _, err := c.Descents(ctx, Filter{Brief: true}); return err },
	"descent":   func(c *Catalog, _ string) error { _, err := c.Descent(ctx, "r-f-1.0"); return err },
	"queue":     func(c *Catalog, _ string) error { _, err := c.Queue(ctx); return err },
	"routes":    func(c *Catalog, _ string) error { _, err := c.Routes(ctx); return err },
	"parts":     func(c *Catalog, _ string) error { _, err := c.SteepParts(ctx, Filter{}); return err },
	"tangents":  func(c *Catalog, _ string) error { _, err := c.Tangents(ctx, "r"); return err },
	"proposals": func(c *Catalog, _ string) error { _, err := c.Proposals(ctx); return err },
	"history":   func(c *Catalog, _ string) error { _, err := c.History(ctx, ""); return err },
	"sites":     func(c *Catalog, _ string) error { _, err := c.Sites(ctx, SiteFilter{Route: "r"}); return err },
	"harsher": func(c *Catalog, _ string) error {
		_, _, err := c.Harsher(ctx, &catalog.Entry{}, "heavy")
		return err
	},
	"part": func(c *Catalog, dir string) error {
		_, err := c.Subset(ctx, filepath.Join(dir, "part.gpkg"), Filter{}, SubsetOptions{Replace: true})
		return err
	},
	"merge": func(c *Catalog, dir string) error {
		into, err := Open(ctx, filepath.Join(dir, "into.gpkg"), Options{Create: true, Now: clock})
		if err != nil {
			return err
		}
		defer into.Close()
		_, err = Merge(ctx, into, c, MergeOptions{DryRun: true})
		return err
	},
}

// A changed value of a road, a provenance, a class, a review, a waiting survey, a line of
// the history or a site is given by nothing that reads it: each column of each table.
func TestAChangedRowIsRefused(t *testing.T) {
	c, good := fresh(t)
	fillEveryTable(t, c)
	c.Close()
	readBy := map[string][]string{
		"routes": {"list", "routes", "parts", "merge", "part"}, "provenance": {"list", "descent", "merge", "part"}, "classes": {"merge", "part"},
		"reviews": {"list", "descent", "queue", "merge", "part"}, "proposals": {"queue", "proposals", "harsher", "merge", "part"}, "history": {"queue", "history", "merge", "part"},
		"sites": {"sites", "merge", "part"}, "tangents": {"tangents", "merge", "part"}, "sources": {"merge", "part"},
	}
	columns := map[string]string{"tangents": "from_m, to_m, grade_pct, grade_err_pct", "sources": "kind, name, crs, vertical_datum, vertical_unit, vertical_unit_from, cell_m, bytes, sha256, driver, cols, rows"}
	for _, table := range gpkg.SealedTables() {
		columns[table] = gpkg.ColumnNames(table)
	}
	dir := t.TempDir()
	for table, names := range columns {
		copied := false // by a merge and into a part, which compare every column alike
		for _, column := range strings.Split(names, ", ") {
			if column == "fid" || column == "seal" || table == "routes" && (column == "name" || column == "ref") || table == "sites" && column == "geom" {
				continue // keys and sums; names, which people may edit; a plain program cannot write a geometry
			}
			path := copyFile(t, good)
			spoil(t, path, "PRAGMA writable_schema = ON; DELETE FROM sqlite_master WHERE type = 'trigger'; PRAGMA writable_schema = RESET; PRAGMA ignore_check_constraints = ON; "+
				fmt.Sprintf("UPDATE %[1]s SET %[2]s = CASE typeof(%[2]s) WHEN 'text' THEN %[2]s || 'x' WHEN 'blob' THEN zeroblob(length(%[2]s)) WHEN 'null' THEN 1 ELSE %[2]s + 1000 END WHERE fid = (SELECT min(fid) FROM %[1]s)", table, column))
			c, err := Open(ctx, path, Options{ReadOnly: true})
			if err != nil {
				t.Fatalf("%s.%s: %v", table, column, err)
			}
			for _, name := range readBy[table] {
				if copied && (name == "merge" || name == "part") {
					continue
				}
				var f *Fault
				if err := readers[name](c, dir); !errors.As(err, &f) || f.File != path || f.Fix == "" {
					t.Errorf("%s.%s: %s gives it, %v", table, column, name, err)
				}
			}
			if found, err := c.Doctor(ctx); err != nil || !slices.ContainsFunc(found, func(d Defect) bool { return strings.Contains(d.What, "check sum") }) {
				t.Errorf("%s.%s: doctor: %v, %v", table, column, found, err)
			}
			c.Close()
			copied = true
		}
	}
}

// What a person changes in another program stays usable: the review and the site are as
// they were typed, the history says so, and doctor finds no fault.
func TestAnEditByHandIsNoDamage(t *testing.T) {
	c, path := fresh(t)
	fillEveryTable(t, c)
	c.Close()
	// As a program does that knows no function of the standard's R-tree triggers.
	spoil(t, path, "PRAGMA writable_schema = ON; DELETE FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'rtree%'; PRAGMA writable_schema = RESET",
		"UPDATE reviews SET state = 'retired', note = 'closed' WHERE descent = 'r-f-1.0'",
		"UPDATE sites SET kind = 'pullout', name = 'Lay-by', seal = 77",
		"UPDATE routes SET name = 'The Old Road', ref = 'R 1'")
	c = open(t, path)
	e, err := c.Descent(ctx, "r-f-1.0")
	if err != nil || e.Review.State != catalog.Retired || e.Review.Note != "closed" {
		t.Errorf("%+v, %v", e.Review, err)
	}
	s, err := c.Sites(ctx, SiteFilter{})
	if err != nil || len(s) != 1 || s[0].Kind != catalog.Pullout || s[0].Name != "Lay-by" {
		t.Errorf("%+v, %v", s, err)
	}
	roads, err := c.Routes(ctx)
	if err != nil || !slices.ContainsFunc(roads, func(r RouteRecord) bool { return r.Name == "The Old Road" }) {
		t.Errorf("%+v, %v", roads, err)
	}
	h, err := c.History(ctx, "")
	if err != nil || !slices.ContainsFunc(h, func(e Event) bool { return e.What == "by hand" && strings.Contains(e.Words, "site changed: "+s[0].ID) }) {
		t.Errorf("%+v, %v", h, err)
	}
	if found, err := c.Repair(ctx, "Ada"); err != nil || slices.ContainsFunc(found, func(d Defect) bool { return d.Check != "tables" }) {
		t.Errorf("doctor: %+v, %v", found, err)
	}
	if found, err := c.Doctor(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %+v, %v", found, err)
	}
	// The program's own change of the same rows gives them a check sum again.
	s[0].Name = "Rest area"
	if _, err := c.AddSites(ctx, s, "Ada"); err != nil {
		t.Fatal(err)
	}
	if err := c.Review(ctx, "r-f-1.0", catalog.Review{State: catalog.FieldChecked, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	var without int
	err = c.file.Read(ctx, func(q gpkg.Querier) error {
		_, err := gpkg.First(q, []any{&without}, "SELECT (SELECT count(*) FROM sites WHERE seal IS NULL) + (SELECT count(*) FROM reviews WHERE seal IS NULL)")
		return err
	})
	if err != nil || without != 0 {
		t.Errorf("%d rows without a check sum, %v", without, err)
	}
}

// A damaged review is mended by a new one, which takes nothing over from it; a damaged
// site by being taken out.
func TestADamagedReviewOrSiteIsMended(t *testing.T) {
	c, path := fresh(t)
	fillEveryTable(t, c)
	c.Close()
	spoil(t, path, "PRAGMA writable_schema = ON; DELETE FROM sqlite_master WHERE type = 'trigger'; PRAGMA writable_schema = RESET",
		"UPDATE reviews SET measured_downgrade_pct = 2 WHERE descent = 'r-f-1.0'", "UPDATE sites SET station_m = 99")
	c = open(t, path)
	if err := c.Review(ctx, "r-f-1.0", catalog.Review{State: catalog.FieldChecked, By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	e, err := c.Descent(ctx, "r-f-1.0")
	if err != nil || e.Review.MeasuredGradePct != nil || e.Review.By != "Bo" {
		t.Errorf("%+v, %v", e.Review, err)
	}
	h, err := c.History(ctx, "r-f-1.0")
	if err != nil || !strings.Contains(h[len(h)-1].Words, "the earlier review was damaged") {
		t.Errorf("%+v, %v", h, err)
	}
	var f *Fault
	if _, err := c.Sites(ctx, SiteFilter{}); !errors.As(err, &f) || !errors.Is(err, terrain.ErrRead) || !strings.Contains(f.Feature, "escape-ramp-r-1.2") {
		t.Errorf("%v", err)
	}
	if err := c.RemoveSite(ctx, "escape-ramp-r-1.2", "Bo", ""); err != nil {
		t.Fatal(err)
	}
	if s, err := c.Sites(ctx, SiteFilter{}); err != nil || len(s) != 0 {
		t.Errorf("%+v, %v", s, err)
	}
}
