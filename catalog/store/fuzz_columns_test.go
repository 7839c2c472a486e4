package store

import (
	"database/sql"
	"os"
	"path/filepath"
	"testing"
)

// columnsOfText are what another program may have filled with anything.
var columnsOfText = []struct{ table, column string }{
	{"descents", "more"}, {"descents", "flags"}, {"descents", "benches"}, {"descents", "direction"}, {"descents", "geom"}, {"descents", "start_m"}, {"descents", "gone_since"},
	{"descents", "id"}, {"descents", "name"}, {"holds", "more"}, {"holds", "holds"}, {"holds", "gear"}, {"holds", "speed_mps"}, {"holds", "class"}, {"holds", "service_brake_temp_c"},
	{"provenance", "details"}, {"profiles", "samples"}, {"proposals", "entry"}, {"proposals", "class_fids"}, {"proposals", "samples"}, {"proposals", "at"}, {"classes", "definition"},
	{"reviews", "reviewed_at"}, {"reviews", "measured_downgrade_pct"}, {"reviews", "note"}, {"history", "at"}, {"routes", "length_m"}, {"routes", "route"}, {"tangents", "from_m"},
	{"sources", "vertical_unit"}, {"sources", "bytes"}, {"sites", "geom"}, {"sites", "station_m"}, {"catalogue", "format"}, {"catalogue", "schema_version"}, {"gpkg_contents", "min_x"},
}

// Any value in any column, as text, bytes or a number, put there by a plain
// SQLite program: reading, merging, taking out, reviewing and repairing end in an answer or a
// fault, never in a panic.
func FuzzColumns(f *testing.F) {
	path := seeded(f)
	whole, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	for k := 0; k < len(columnsOfText); k += 4 {
		f.Add(uint8(k), uint8(0), []byte(`{"flags":[null],"cautions":{}}`), 0.0)
	}
	f.Add(uint8(4), uint8(1), []byte("GP\x00\x03\xe6\x10\x00\x00"), 0.0)
	f.Add(uint8(5), uint8(2), []byte{}, 1e308)
	f.Add(uint8(24), uint8(3), []byte{}, -1.0)
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, column, kind uint8, text []byte, number float64) {
		target := filepath.Join(dir, "fuzz.gpkg")
		os.Remove(target + "-journal")
		if err := os.WriteFile(target, whole, 0o644); err != nil {
			t.Fatal(err)
		}
		col := columnsOfText[int(column)%len(columnsOfText)]
		value := []any{string(text), text, number, int64(number)}[kind%4]
		db, err := sql.Open("sqlite3", target)
		if err != nil {
			t.Fatal(err)
		}
		// Checks off, as any program may.
		db.SetMaxOpenConns(1)
		for _, q := range []string{"PRAGMA ignore_check_constraints = ON", "DROP TRIGGER IF EXISTS rtree_descents_geom_update1", "DROP TRIGGER IF EXISTS rtree_descents_geom_update2", "DROP TRIGGER IF EXISTS rtree_descents_geom_update3",
			"DROP TRIGGER IF EXISTS rtree_descents_geom_update4", "DROP TRIGGER IF EXISTS rtree_sites_geom_update1", "DROP TRIGGER IF EXISTS rtree_sites_geom_update2", "DROP TRIGGER IF EXISTS rtree_sites_geom_update3", "DROP TRIGGER IF EXISTS rtree_sites_geom_update4"} {
			if _, err := db.Exec(q); err != nil {
				t.Fatal(q, err)
			}
		}
		_, err = db.Exec("UPDATE "+col.table+" SET "+col.column+" = ?", value)
		db.Close()
		if err != nil {
			return // NOT NULL and UNIQUE still hold
		}
		mergeInto(t, dir, target)
		readAll(t, target, Options{ReadOnly: true})
		readAll(t, target, Options{BusyTimeout: -1, Now: clock})
		repairAll(t, target)
	})
}

// seeded is a catalogue with a row in every table.
func seeded(f testing.TB) string {
	path := filepath.Join(f.TempDir(), "seed.gpkg")
	c := open(f, path)
	fillEveryTable(f, c)
	if err := c.Close(); err != nil {
		f.Fatal(err)
	}
	return path
}

func mergeInto(t *testing.T, dir, path string) {
	src, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		mustBeFault(t, err)
		return
	}
	defer src.Close()
	to := filepath.Join(dir, "into.gpkg")
	os.Remove(to)
	dst, err := Open(ctx, to, Options{Create: true, Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer dst.Close()
	_, err = Merge(ctx, dst, src, MergeOptions{By: "t", TakeTheirs: true})
	mustBeFault(t, err)
	_, err = src.Subset(ctx, filepath.Join(dir, "part.gpkg"), Filter{WithRetired: true}, SubsetOptions{Replace: true})
	mustBeFault(t, err)
}

func repairAll(t *testing.T, path string) {
	c, err := Open(ctx, path, Options{BusyTimeout: -1, Now: clock})
	if err != nil {
		mustBeFault(t, err)
		return
	}
	defer c.Close()
	_, err = c.Repair(ctx, "t")
	mustBeFault(t, err)
	_, err = c.Proposals(ctx)
	mustBeFault(t, err)
	mustBeFault(t, c.Accept(ctx, "r-f-1.0", "t"))
	mustBeFault(t, c.Refuse(ctx, "r-f-11.0", "t", "no"))
}
