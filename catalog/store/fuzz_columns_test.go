package store

import (
	"database/sql"
	"fmt"
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
	{"advice", "packed"}, {"advice", "seal"}, {"texts", "text"}, {"texts", "seal"}, {"descents", "line"}, {"holds", "gear_name"}, {"holds", "surfaces_excluded"}, {"holds", "class_figures"},
	{"steep_parts", "geom"}, {"steep_parts", "start_m"}, {"steep_parts", "direction"}, {"steep_parts", "flags"}, {"steep_parts", "seal"}, {"steep_parts", "route"}, {"routes", "possible_steep_m"},
}

// Any value in any column, as text, bytes or a number, put there by a plain
// SQLite program: reading, merging, taking out, reviewing and repairing end in an answer or a
// fault, never in a panic. Each run does one of these, chosen by its last byte, so that
// many values are tried.
func FuzzColumns(f *testing.F) {
	dir := quickDir(f)
	target := filepath.Join(dir, "fuzz.gpkg")
	whole := unguarded(f, dir)
	for k := range columnsOfText {
		f.Add(uint8(k), uint8(k%4), []byte(`{"flags":[null],"cautions":{}}`), float64(k)-3, uint8(k))
	}
	f.Add(uint8(4), uint8(1), []byte("GP\x00\x03\xe6\x10\x00\x00"), 0.0, uint8(0))
	f.Add(uint8(5), uint8(2), []byte{}, 1e308, uint8(1))
	f.Add(uint8(24), uint8(3), []byte{}, -1.0, uint8(2))
	f.Fuzz(func(t *testing.T, column, kind uint8, text []byte, number float64, use uint8) {
		os.Remove(target + "-journal")
		if err := os.WriteFile(target, whole, 0o644); err != nil {
			t.Fatal(err)
		}
		if !spoilColumn(t, target, column, []any{string(text), text, number, int64(number)}[kind%4]) {
			return
		}
		switch use % 5 {
		case 0:
			mergeInto(t, dir, target)
		case 1:
			takeOut(t, dir, target)
		case 2:
			readAll(t, target, Options{ReadOnly: true})
		case 3:
			readAll(t, target, Options{BusyTimeout: -1, Now: clock})
		default:
			repairAll(t, target)
		}
	})
}

// quickDir is a folder in memory where the system has one: what a fuzz target writes need
// not outlive it, and waiting for the disk leaves it a few runs a second.
func quickDir(f *testing.F) string {
	dir, err := os.MkdirTemp("/dev/shm", "fuzz")
	if err != nil {
		return f.TempDir()
	}
	f.Cleanup(func() { os.RemoveAll(dir) })
	return dir
}

// unguarded is a catalogue with a row in every table, without the triggers that keep its
// geometries in step: any program may leave them out.
func unguarded(f *testing.F, dir string) []byte {
	path := filepath.Join(dir, "seed.gpkg")
	whole, err := os.ReadFile(seeded(f))
	if err == nil {
		err = os.WriteFile(path, whole, 0o644)
	}
	if err != nil {
		f.Fatal(err)
	}
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		f.Fatal(err)
	}
	for _, table := range []string{"descents", "sites", "steep_parts"} {
		for k := 1; k <= 4; k++ {
			if _, err := db.Exec(fmt.Sprintf("DROP TRIGGER IF EXISTS rtree_%s_geom_update%d", table, k)); err != nil {
				f.Fatal(err)
			}
		}
	}
	if err := db.Close(); err != nil {
		f.Fatal(err)
	}
	if whole, err = os.ReadFile(path); err != nil {
		f.Fatal(err)
	}
	return whole
}

// spoilColumn puts a value into every row of a column; false where SQLite itself refuses
// it, by NOT NULL or UNIQUE.
func spoilColumn(t *testing.T, path string, column uint8, value any) bool {
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	for _, q := range []string{"PRAGMA ignore_check_constraints = ON", "PRAGMA journal_mode = MEMORY", "PRAGMA synchronous = OFF"} {
		if _, err := db.Exec(q); err != nil {
			t.Fatal(q, err)
		}
	}
	col := columnsOfText[int(column)%len(columnsOfText)]
	_, err = db.Exec("UPDATE "+col.table+" SET "+col.column+" = ?", value)
	return err == nil
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
}

func takeOut(t *testing.T, dir, path string) {
	src, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		mustBeFault(t, err)
		return
	}
	defer src.Close()
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
