package store

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// A file that isn't a sound catalogue of this version is refused with its kind,
// its name and what to do, and is left as it was to the byte.
func TestWhatIsRefused(t *testing.T) {
	c, good := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	c.Close()
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	write := func(name string, b []byte) string {
		p := filepath.Join(dir, name)
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
		return p
	}
	made := func(name string, stmts ...string) string {
		p := filepath.Join(dir, name)
		spoil(t, p, stmts...)
		return p
	}
	changed := func(name string, stmts ...string) string {
		p := write(name, whole)
		spoil(t, p, stmts...)
		return p
	}
	foreign := filepath.Join(dir, "foreign.gpkg")
	geojson := write("a.geojson", []byte(`{"type":"Feature","properties":{"a":1},"geometry":{"type":"LineString","coordinates":[[1,2],[3,4]]}}`))
	if out, err := exec.Command("ogr2ogr", "-f", "GPKG", foreign, geojson).CombinedOutput(); err != nil {
		t.Fatalf("ogr2ogr: %v %s", err, out)
	}
	flipped := append([]byte{}, whole...)
	for i := 100; i < 2048; i++ {
		flipped[i] ^= 0x5a
	}
	for _, tc := range []struct {
		path string
		kind error
		says string
	}{
		{filepath.Join(dir, "missing.gpkg"), catalog.ErrNotFound, "no such catalogue"},
		{dir, catalog.ErrNotOurs, "not a file"},
		{write("empty.gpkg", nil), catalog.ErrNotOurs, "not an SQLite file"},
		{geojson, catalog.ErrNotOurs, "not an SQLite file"},
		{write("half.gpkg", whole[:len(whole)/2]), terrain.ErrRead, "truncated"},
		{write("head.gpkg", whole[:100]), terrain.ErrRead, "truncated"},
		{write("flipped.gpkg", flipped), terrain.ErrRead, "damaged"},
		{made("foreign.sqlite", "CREATE TABLE descents(id TEXT)"), catalog.ErrNotOurs, "an SQLite file, but not a gradeline catalogue"},
		{made("other.sqlite", "CREATE TABLE catalogue(name TEXT)", "INSERT INTO catalogue VALUES ('books')"), catalog.ErrNotOurs, "an SQLite file, but not a gradeline catalogue"},
		{made("trap.gpkg", "PRAGMA application_id = 1196444487", "CREATE VIEW catalogue AS WITH RECURSIVE r(format) AS (SELECT 1 UNION ALL SELECT format + 1 FROM r) SELECT format, count(*) AS schema_version FROM r"), catalog.ErrNotOurs, "a GeoPackage, but not a gradeline catalogue"},
		{foreign, catalog.ErrNotOurs, "a GeoPackage, but not a gradeline catalogue"},
		{changed("newer.gpkg", "UPDATE catalogue SET schema_version = 99"), catalog.ErrNewer, "newer version"},
		{changed("column.gpkg", "ALTER TABLE reviews DROP COLUMN photo_ref"), catalog.ErrNotOurs, "table \"reviews\": it differs from the definition of this program: column photo_ref is missing"},
	} {
		before, _ := os.ReadFile(tc.path)
		for _, o := range []Options{{}, {ReadOnly: true}, {Create: true, ReadOnly: true}} {
			c, err := Open(ctx, tc.path, o)
			if err == nil {
				c.Close()
				t.Errorf("%s was opened", filepath.Base(tc.path))
				continue
			}
			var f *Fault
			if !errors.Is(err, tc.kind) || !errors.As(err, &f) || f.File != tc.path || f.Fix == "" || !strings.Contains(err.Error(), tc.says) || strings.Contains(err.Error(), "\n") {
				t.Errorf("%s: %v", filepath.Base(tc.path), err)
			}
		}
		if after, _ := os.ReadFile(tc.path); !bytes.Equal(before, after) {
			t.Errorf("%s was changed", tc.path)
		}
		for _, end := range []string{"-journal", "-wal", "-shm"} {
			if _, err := os.Stat(tc.path + end); err == nil {
				t.Errorf("%s left behind", tc.path+end)
			}
		}
	}
}

// Damage anywhere inside gives a fault of the file or a finding, never a panic
// and never other figures.
func TestDamageInside(t *testing.T) {
	const seed = 11
	t.Logf("seed %d", seed)
	r := rand.New(rand.NewPCG(seed, 3))
	c, good := fresh(t)
	save(t, c, survey("Kestrel Road", 20), SaveOptions{})
	want, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	told, dir := 0, t.TempDir()
	for round := range 60 {
		b := append([]byte{}, whole...)
		page := 1 + r.IntN(len(b)/2048-1)
		for i := range 2048 {
			b[page*2048+i] = byte(r.Uint32())
		}
		path := filepath.Join(dir, fmt.Sprint(round, ".gpkg"))
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		c, err := Open(ctx, path, Options{ReadOnly: true})
		if err == nil {
			var got []catalog.Entry
			got, err = c.Descents(ctx, Filter{})
			found, e := c.Doctor(ctx)
			if err == nil && !reflect.DeepEqual(got, want) && e == nil && len(found) == 0 {
				t.Errorf("page %d: other figures, and nobody says so", page)
			}
			if err == nil && (e != nil || len(found) > 0) {
				told++
			}
			err = errors.Join(err, e)
			c.Close()
		}
		if err != nil {
			told++
			var f *Fault
			if !errors.As(err, &f) || f.Kind == nil {
				t.Errorf("page %d: %v is no fault", page, err)
			}
		}
	}
	t.Logf("%d of 60 damaged files noticed", told)
	if told < 50 {
		t.Errorf("only %d of 60 damaged files were noticed", told)
	}
}

// A change that was cut off with its journal beside the file, as after a kill or
// a power cut: the next one to open it finds the old content.
func TestHotJournal(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 40), SaveOptions{})
	want, err := c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	conn, err := db.Conn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range []string{"PRAGMA cache_size = 4", "BEGIN IMMEDIATE", "UPDATE holds SET speed_mps = 99, more = hex(randomblob(3000))"} {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			t.Fatal(err)
		}
	}
	for _, readOnly := range []bool{false, true} {
		hot := copyFile(t, path)
		j, err := os.ReadFile(path + "-journal")
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(hot+"-journal", j, 0o644); err != nil {
			t.Fatal(err)
		}
		if b, _ := os.ReadFile(hot); bytes.Count(b, []byte("99")) == 0 || len(j) < 2048 {
			t.Fatal("the change did not reach the file, so this test shows nothing")
		}
		c, err := Open(ctx, hot, Options{ReadOnly: readOnly})
		if err != nil {
			t.Fatal(err)
		}
		got, err := c.Descents(ctx, Filter{})
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("read-only %v: not what was there before, %v", readOnly, err)
		}
		if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
			t.Errorf("doctor: %+v, %v", f, err)
		}
		c.Close()
		mustBeValid(t, hot, "rolling back")
	}
}

func TestABusyFileNamesTheOther(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	other, err := Open(ctx, path, Options{BusyTimeout: -1})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	s := c.BeginSurvey(SaveOptions{By: "t", RoutesPerCommit: 10})
	if _, err := s.Save(ctx, survey("Heron Pass", 1)); err != nil {
		t.Fatal(err)
	}
	_, err = other.SaveRoute(ctx, survey("Otter Grade", 1), SaveOptions{})
	if !errors.Is(err, catalog.ErrBusy) || !strings.Contains(err.Error(), "in use by") || !strings.Contains(err.Error(), "wait") {
		t.Errorf("busy: %v", err)
	}
	if l, err := other.Descents(ctx, Filter{}); err != nil || len(l) != 1 {
		t.Errorf("a reader meanwhile: %d, %v", len(l), err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := other.SaveRoute(ctx, survey("Otter Grade", 1), SaveOptions{}); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

func TestACancelledSurveyKeepsWholeRoutes(t *testing.T) {
	c, _ := fresh(t)
	s := c.BeginSurvey(SaveOptions{RoutesPerCommit: 1})
	stop, cancel := contextWithCancel()
	if _, err := s.Save(stop, survey("Kestrel Road", 2)); err != nil {
		t.Fatal(err)
	}
	cancel()
	if _, err := s.Save(stop, survey("Heron Pass", 2)); !errors.Is(err, stop.Err()) {
		t.Errorf("%v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if l, _ := c.Descents(ctx, Filter{}); len(l) != 2 {
		t.Errorf("%d descents", len(l))
	}
}
