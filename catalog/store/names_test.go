package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/terrain"
)

// An older file is copied before it is brought up to date, and a step that fails
// leaves it as it was.
func TestMigration(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 2), SaveOptions{})
	c.Close()
	old := copyFile(t, path)
	spoil(t, old, "ALTER TABLE reviews DROP COLUMN photo_ref", "DELETE FROM gpkg_data_columns WHERE table_name = 'reviews' AND column_name = 'photo_ref'", "UPDATE catalogue SET schema_version = 0")
	defer func(m []migration, oldest int) { migrations, oldestSchema = m, oldest }(migrations, oldestSchema)
	oldestSchema = 0
	before, _ := os.ReadFile(old)
	migrations = []migration{{0, "photos", []string{"ALTER TABLE reviews ADD COLUMN photo_ref TEXT NOT NULL DEFAULT ''", "no SQL at all"}}}
	if _, err := Open(ctx, old, Options{Now: clock}); err == nil {
		t.Fatal("a broken migration passed")
	}
	if after, _ := os.ReadFile(old); !bytes.Equal(before, after) {
		t.Error("a broken migration changed the file")
	}
	if _, err := Open(ctx, old, Options{ReadOnly: true}); !errors.Is(err, ErrWrite) || !strings.Contains(err.Error(), "older version") {
		t.Errorf("reading an older file: %v", err)
	}
	migrations[0].sql = []string{
		"ALTER TABLE reviews ADD COLUMN photo_ref TEXT NOT NULL DEFAULT ''",
		"INSERT INTO gpkg_data_columns(table_name, column_name, name, title) VALUES ('reviews', 'photo_ref', 'Photo', 'Photo')",
	}
	m, err := Open(ctx, old, Options{Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	if l, err := m.Descents(ctx, Filter{}); err != nil || len(l) != 2 {
		t.Errorf("%d, %v", len(l), err)
	}
	h, err := m.History(ctx, "")
	if err != nil || h[len(h)-1].What != "migrated" || !strings.Contains(h[len(h)-1].Words, "copy kept in") {
		t.Errorf("history %v", err)
	}
	copies, _ := filepath.Glob(filepath.Join(filepath.Dir(old), "*.kept-*"))
	if len(copies) != 2 { // of the failed and of the good attempt
		t.Fatalf("copies: %v", copies)
	}
	mustBeValid(t, old, "a migration")
	mustBeValid(t, copies[0], "copying")
	approve(t, m, "kestrel-road-f-1.0")
}

// Names that would break a page, a statement or a terminal come back as they
// were; ids hold none of it.
func TestOddNames(t *testing.T) {
	c, path := fresh(t)
	for i, name := range []string{"'; DROP TABLE descents; --", "<script>alert('x')</script>", "a\x01b\x1b[31m", "\u202Egpj.exe", "\u2066\u2069", "Grüße & Höhen", "日本坂", "=HYPERLINK(\"x\")", strings.Repeat("long ", 500), "../../etc", "%s%n", "x\ny"} {
		rs := survey(name, 1)
		rs.Entries[0].Descent.Name = name
		ch := save(t, c, rs, SaveOptions{By: name})
		id := ch.Added[0]
		for _, r := range id {
			if !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-' || r == '.') {
				t.Errorf("id %q of %q", id, name)
			}
		}
		if len(id) > 60 {
			t.Errorf("id of %d characters", len(id))
		}
		e := descent(t, c, id)
		if e.Descent.Name != name || e.Descent.Route != name {
			t.Errorf("%q came back as %q", name, e.Descent.Name)
		}
		if l, err := c.Descents(ctx, Filter{Route: name}); err != nil || len(l) != 1 {
			t.Errorf("%d: by route %q: %d, %v", i, name, len(l), err)
		}
		if _, err := c.Descent(ctx, name); !errors.Is(err, catalog.ErrNotFound) || strings.ContainsAny(err.Error(), "\n\x1b\u202E") {
			t.Errorf("asking for %q: %v", name, err)
		}
	}
	for _, bad := range []string{"\xff\xfe", "a\x00b"} {
		if _, err := c.SaveRoute(ctx, survey(bad, 1), SaveOptions{}); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%q: %v", bad, err)
		}
	}
	mustBeValid(t, path, "odd names")
}

func TestOddPaths(t *testing.T) {
	for _, name := range []string{"a b.gpkg", "a?mode=memory.gpkg", "a#b.gpkg", "a%41.gpkg", "ü'\".gpkg", "noending"} {
		path := filepath.Join(t.TempDir(), name)
		c := open(t, path)
		save(t, c, survey("Kestrel Road", 1), SaveOptions{})
		c.Close()
		if l, err := os.ReadDir(filepath.Dir(path)); err != nil || len(l) != 1 || l[0].Name() != name {
			t.Errorf("%q: folder holds %v", name, l)
		}
	}
}

func TestFindingADescent(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 3), SaveOptions{})
	for _, id := range []string{"kestrel-road-f-1.0", "KESTREL-ROAD-F-21.0", " kestrel-road-f-2 "} {
		if _, err := c.Descent(ctx, id); err != nil {
			t.Errorf("%q: %v", id, err)
		}
	}
	for id, says := range map[string]string{
		"kestrel-road-f-1":   "write one out: kestrel-road-f-1.0, kestrel-road-f-11.0",
		"kestral-road-f-1.0": "did you mean kestrel-road-f-1.0",
		"":                   "no descent",
		"zzz":                "list shows the ids",
	} {
		if _, err := c.Descent(ctx, id); !errors.Is(err, catalog.ErrNotFound) || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", id, err)
		}
	}
}

func TestWALIsLeft(t *testing.T) {
	c, path := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	c.Close()
	spoil(t, path, "PRAGMA journal_mode = WAL", "UPDATE reviews SET note = ''")
	c = open(t, path)
	save(t, c, survey("Heron Pass", 1), SaveOptions{})
	if b, err := os.ReadFile(path); err != nil || b[18] != 1 {
		t.Errorf("still in write-ahead mode, %v", err)
	}
	if _, err := os.Stat(path + "-wal"); err == nil {
		t.Error("a log was left")
	}
}

func TestStampsAreUTCWithMilliseconds(t *testing.T) {
	got := stamp(time.Date(2026, 1, 2, 3, 4, 5, 600, time.FixedZone("x", 3600)))
	if got != "2026-01-02T02:04:05.000Z" {
		t.Error(got)
	}
	if fmt.Sprint(Version()) < "3.4" {
		t.Error(Version())
	}
}
