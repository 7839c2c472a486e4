package gpkg

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// An older file is copied before it is brought up to date, and a step that fails
// leaves it as it was.
func TestMigration(t *testing.T) {
	old := withRows(t)
	spoil(t, old, "ALTER TABLE reviews DROP COLUMN photo_ref", "DELETE FROM gpkg_data_columns WHERE table_name = 'reviews' AND column_name = 'photo_ref'", "UPDATE catalogue SET schema_version = 0")
	defer func(m []migration, oldest int) { migrations, oldestSchema = m, oldest }(migrations, oldestSchema)
	oldestSchema = 0
	reviews := func(columns string) string {
		return strings.Replace((&table{name: "reviews", columns: tableNamed("reviews").columns}).createSQL(), columns, "", 1)
	}
	photo := ", photo_ref TEXT NOT NULL DEFAULT ''"
	olderDefinitions = []string{reviews(photo), strings.TrimSuffix(reviews(photo), ")") + photo + ")"}
	ownDefinitions = readOwnDefinitions
	defer func() { olderDefinitions, ownDefinitions = nil, sync.OnceValue(readOwnDefinitions) }()
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
	if n := count(t, m, "SELECT count(*) FROM descents"); n != 2 {
		t.Errorf("%d descents", n)
	}
	if count(t, m, "SELECT count(*) FROM history WHERE what = 'migrated' AND words LIKE '%copy kept in%'") != 1 {
		t.Error("the history does not tell of it")
	}
	copies, _ := filepath.Glob(filepath.Join(filepath.Dir(old), "*.kept-*"))
	if len(copies) != 2 { // of the failed and of the good attempt
		t.Fatalf("copies: %v", copies)
	}
	mustBeValid(t, old, "a migration")
	mustBeValid(t, copies[0], "copying")
}
