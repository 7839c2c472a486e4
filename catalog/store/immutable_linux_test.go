package store

import (
	"database/sql"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// inWAL puts a file into write-ahead mode, as a GIS that has opened it leaves it.
func inWAL(t *testing.T, path, then string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	if _, err := db.Exec("PRAGMA journal_mode = WAL; " + then); err != nil {
		t.Fatal(err)
	}
	return db
}

// A file left in write-ahead mode wants more files beside it, which a folder that
// can't be written can't have; it is read all the same, and writing is refused.
func TestReadOnlyFolderAndWriteAheadMode(t *testing.T) {
	dir, path, want := openFolder(t, 3)
	if err := inWAL(t, path, "").Close(); err != nil {
		t.Fatal(err)
	}
	os.Chmod(path, 0o444)
	os.Chmod(dir, 0o555)
	asNobody(t, func() {
		c, err := Open(ctx, path, Options{ReadOnly: true})
		if err != nil {
			t.Errorf("reading: %v", err)
			return
		}
		defer c.Close()
		if got, err := c.Descents(ctx, Filter{}); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("reading: %v", err)
		}
		_, err = c.SaveRoute(ctx, survey("Heron Pass", 1), SaveOptions{})
		wantWriteFault(t, "writing through it", err)
		if _, err = Open(ctx, path, Options{}); err == nil {
			t.Error("opened for writing")
		}
		wantWriteFault(t, "opening for writing", err)
		if l, _ := os.ReadDir(dir); len(l) != 1 {
			t.Errorf("left behind: %v", l)
		}
	})
}

// What lies in a write-ahead log is part of the catalogue: without a place for the
// log's index it can't be read, and leaving it out would show an older state.
func TestReadOnlyFolderAndWriteAheadLog(t *testing.T) {
	from, path, want := openFolder(t, 3)
	db := inWAL(t, path, "UPDATE routes SET name = 'Elsewhere'")
	defer db.Close()
	dir, err := os.MkdirTemp("", "gradeline")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	for _, name := range []string{"hills.gpkg", "hills.gpkg-wal"} {
		b, err := os.ReadFile(filepath.Join(from, name))
		if err == nil {
			err = os.WriteFile(filepath.Join(dir, name), b, 0o444)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	os.Chmod(dir, 0o555)
	defer os.Chmod(dir, 0o755)
	asNobody(t, func() {
		c, err := Open(ctx, filepath.Join(dir, "hills.gpkg"), Options{ReadOnly: true})
		if err == nil {
			got, _ := c.Descents(ctx, Filter{})
			c.Close()
			t.Errorf("an older state was read: %v", reflect.DeepEqual(got, want))
			return
		}
		var f *Fault
		if !errors.As(err, &f) || !errors.Is(err, terrain.ErrRead) || !strings.Contains(f.What, "-wal") || !strings.Contains(f.Fix, "copy both") {
			t.Error(err)
		}
	})
}

// A file read as unchanging that its owner changes: no mixture of old and new is given.
func TestReadAsFoundNoticesChanges(t *testing.T) {
	dir, path, _ := openFolder(t, 3)
	if err := inWAL(t, path, "").Close(); err != nil {
		t.Fatal(err)
	}
	os.Chmod(dir, 0o555)
	opened, changed := make(chan *Catalog), make(chan struct{})
	go asNobody(t, func() {
		c, err := Open(ctx, path, Options{ReadOnly: true})
		if err != nil {
			t.Errorf("reading: %v", err)
		}
		opened <- c
		<-changed
	})
	c := <-opened
	defer close(changed)
	if c == nil {
		return
	}
	defer c.Close()
	if _, err := c.Descents(ctx, Filter{}); err != nil {
		t.Fatal(err)
	}
	os.Chmod(dir, 0o755)
	w := inWAL(t, path, "UPDATE routes SET name = 'Elsewhere'")
	defer w.Close()
	if _, err := c.Descents(ctx, Filter{}); !errors.Is(err, catalog.ErrBusy) {
		t.Errorf("its log: %v", err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Descents(ctx, Filter{}); !errors.Is(err, catalog.ErrBusy) {
		t.Errorf("the file: %v", err)
	}
}
