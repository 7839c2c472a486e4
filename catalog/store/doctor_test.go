package store

import (
	"errors"
	"reflect"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// Each kind of harm that another program can do is found, and put right where
// the rest of the file proves what is right.
func TestDoctor(t *testing.T) {
	c, good := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	approve(t, c, "kestrel-road-f-1.0")
	if _, err := c.AddSites(ctx, []catalog.Site{{Kind: catalog.Pullout, Point: terrain.Point{LonDeg: -110, LatDeg: 40}}}, "t"); err != nil {
		t.Fatal(err)
	}
	if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
		t.Fatalf("a sound file: %+v %v", f, err)
	}
	c.Close()
	for _, tc := range []struct {
		name, stmt, check string
		repaired          bool
	}{
		{"descent deleted by a plain program", "DELETE FROM descents WHERE fid = 2", "references", true},
		{"review of nothing", "UPDATE reviews SET descent = 'nowhere'", "references", false},
		{"provenance lost", "DELETE FROM provenance", "references", false},
		{"index emptied", "DELETE FROM rtree_descents_geom", "spatial index", true},
		{"index shifted", "UPDATE rtree_descents_geom SET maxx = maxx + 1", "spatial index", true},
		{"index shrunk", "UPDATE rtree_sites_geom SET minx = 0, maxx = 0", "spatial index", true},
		{"extent shrunk", "UPDATE gpkg_contents SET max_x = min_x WHERE table_name = 'descents'", "extent", true},
		{"extent lost", "UPDATE gpkg_contents SET max_y = NULL WHERE table_name = 'sites'", "extent", true},
		{"advice edited by hand", "UPDATE holds SET holds = 0 WHERE class = 'heavy' AND descent_fid = 1", "figures", false},
		{"order of danger edited by hand", "PRAGMA writable_schema = ON; DROP TRIGGER rtree_descents_geom_update1; DROP TRIGGER rtree_descents_geom_update2; DROP TRIGGER rtree_descents_geom_update3; DROP TRIGGER rtree_descents_geom_update4; UPDATE descents SET heaviest_rank = 2, heaviest_speed_mps = 30 WHERE fid = 1", "order of danger", true},
		{"index dropped", "DROP INDEX descents_danger", "tables", true},
		{"trigger dropped", "DROP TRIGGER rtree_descents_geom_delete", "tables", true},
		{"history silenced", "DROP TRIGGER reviews_by_hand_update", "tables", true},
		{"geometry spoiled", "PRAGMA writable_schema = ON; DROP TRIGGER rtree_descents_geom_update1; DROP TRIGGER rtree_descents_geom_update2; DROP TRIGGER rtree_descents_geom_update3; DROP TRIGGER rtree_descents_geom_update4; UPDATE descents SET geom = x'4750' WHERE fid = 1", "geometry", false},
		{"layer unlisted", "DELETE FROM gpkg_contents WHERE table_name = 'tangents'", "layers", false},
		{"date typed by hand", "UPDATE reviews SET reviewed_at = '2026-03-04'", "reviews", false},
		{"approved by nobody", "UPDATE reviews SET reviewed_by = ''", "reviews", false},
	} {
		t.Run(tc.name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, strings.Split(tc.stmt, "; ")[0:1]...)
			if parts := strings.Split(tc.stmt, "; "); len(parts) > 1 {
				spoil(t, path, strings.Join(parts[1:], "; "))
			}
			c := open(t, path)
			has := func(f []Defect) (n int) {
				for _, x := range f {
					if x.Check == tc.check {
						n++
						if x.Where == "" || x.What == "" || x.Fix == "" || x.Provable != tc.repaired {
							t.Errorf("finding %+v", x)
						}
					}
				}
				return n
			}
			f, err := c.Doctor(ctx)
			if err != nil || has(f) == 0 {
				t.Fatalf("found %+v, %v", f, err)
			}
			if f, err = c.Repair(ctx, "t"); err != nil {
				t.Fatal(err)
			}
			for _, x := range f {
				if x.Repaired != x.Provable {
					t.Errorf("repaired %v, provable %v: %+v", x.Repaired, x.Provable, x)
				}
			}
			f, err = c.Doctor(ctx)
			if err != nil || (has(f) == 0) != tc.repaired {
				t.Errorf("after the repair: %+v, %v", f, err)
			}
			if tc.repaired {
				mustBeValid(t, path, "a repair")
				if r := descent(t, c, "kestrel-road-f-1.0").Review; r.State != catalog.Approved || r.By != "Ada" {
					t.Errorf("the repair touched a review: %+v", r)
				}
			}
		})
	}
}

// A trigger that rewrites advice when a review is recorded: nothing of it runs, doctor
// names it, and a repair leaves its data in a clean file and the old file beside it.
func TestATriggerInAReceivedFile(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	approve(t, c, "kestrel-road-f-1.0")
	want := all(t, c)
	c.Close()
	spoil(t, path, "CREATE TRIGGER better AFTER UPDATE ON reviews BEGIN UPDATE holds SET gear = 14, speed_mps = 33; DELETE FROM history; END")
	if _, err := Open(ctx, path, Options{}); !errors.Is(err, catalog.ErrNotOurs) || !strings.Contains(err.Error(), `trigger "better" on "reviews"`) {
		t.Fatalf("%v", err)
	}
	found, err := ExamineFile(ctx, path, Options{})
	if err != nil || len(found) != 1 || !strings.Contains(found[0].Where, "better") {
		t.Fatalf("%+v, %v", found, err)
	}
	ours, _ := fresh(t)
	if _, err := Open(ctx, path, Options{ReadOnly: true}); err == nil { // how merge opens what it is given
		t.Error("opened for a merge")
	}
	ours.Close()
	r, err := RepairFile(ctx, path, "Ada", Options{Now: clock})
	if err != nil || r.Kept == "" || len(r.Left) != 0 || len(r.Findings) != 1 || !r.Findings[0].Repaired {
		t.Fatalf("%+v, %v", r, err)
	}
	if _, err := Open(ctx, r.Kept, Options{}); err == nil {
		t.Error("the kept file is another")
	}
	mustBeValid(t, path, "taking over")
	c = open(t, path)
	if got := all(t, c); !reflect.DeepEqual(got, want) {
		t.Error("the clean file holds something else")
	}
	approve(t, c, "kestrel-road-f-11.0")
	if h := descent(t, c, "kestrel-road-f-11.0").Holds[0]; h.Gear == 14 {
		t.Errorf("%+v", h)
	}
}

// A table in whose place stands a view is lost where no advice is read from it, and said
// to be; where advice or a decision would be lost nothing is taken over.
func TestRepairOfATableThatIsAView(t *testing.T) {
	c, good := fresh(t)
	fillEveryTable(t, c)
	want := all(t, c)
	c.Close()
	for table, isSpared := range map[string]bool{"tangents": true, "sources": true, "history": true, "reviews": false, "holds": false, "proposals": false, "sites": false} {
		t.Run(table, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, "PRAGMA writable_schema = ON; DELETE FROM sqlite_master WHERE tbl_name = '"+table+"'; PRAGMA writable_schema = RESET; CREATE VIEW "+table+" AS SELECT 1 AS fid")
			if _, err := Open(ctx, path, Options{ReadOnly: true}); !errors.Is(err, gpkg.ErrSchema) {
				t.Fatalf("it opens: %v", err)
			}
			r, err := RepairFile(ctx, path, "Ada", Options{})
			if !isSpared {
				if err == nil || !strings.Contains(err.Error(), "has no table "+table) {
					t.Errorf("%+v, %v", r, err)
				}
				return
			}
			if err != nil || len(r.Left) != 1 || r.Left[0].Where != "table "+table || !strings.Contains(r.Left[0].What, "lost") {
				t.Fatalf("left %+v, %v", r.Left, err)
			}
			if got := all(t, open(t, path)); !reflect.DeepEqual(got, want) {
				t.Error("advice or a review is another")
			}
			mustBeValid(t, path, "taking over")
		})
	}
}
