package survey

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog/store"
)

// Two surveys into one catalogue at once do not take over from each other.
func TestAJournalInUseIsLeftAlone(t *testing.T) {
	s := demoSetup(t)
	mine, err := newJournal(s.Catalog + ".0-1" + unfinishedExt)
	if err != nil {
		t.Fatal(err)
	}
	defer mine.remove()
	if err := mine.append(&record{partFacts: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	if j := reopenJournal(mine.path); j != nil {
		t.Error("a journal in use was opened")
	}
	if err := runJob(t, s).Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := mine.readRecord(0); err != nil || len(journalsBeside(s.Catalog)) != 1 {
		t.Errorf("%v, journals %v: the one in use must be left, and no other", err, journalsBeside(s.Catalog))
	}
}

// The journal on a full disk is a fault that says what to do (Linux: /dev/full).
func TestAJournalOnAFullDisk(t *testing.T) {
	f, err := os.OpenFile("/dev/full", os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	j := &journal{f: f, path: "hills.gpkg.x" + unfinishedExt}
	defer f.Close()
	err = j.append(&record{partFacts: []byte("{}")})
	if !errors.Is(err, store.ErrWrite) || !strings.Contains(err.Error(), j.path) || j.count != 0 {
		t.Errorf("%v, %d records", err, j.count)
	}
}

// Whatever a working file holds, it opens as complete records or not at all.
func FuzzReopenJournal(f *testing.F) {
	dir := f.TempDir()
	s, err := newJournal(filepath.Join(dir, "seed"))
	if err != nil {
		f.Fatal(err)
	}
	for _, m := range []string{`{"format":"x"}`, `{"key":"k"}`} {
		if err := s.append(&record{partFacts: []byte(m), partRoute: []byte("{}")}); err != nil {
			f.Fatal(err)
		}
	}
	b, err := os.ReadFile(s.path)
	if err != nil {
		f.Fatal(err)
	}
	s.remove()
	f.Add(b)
	f.Add(b[:len(b)-3])
	f.Fuzz(func(t *testing.T, b []byte) {
		path := filepath.Join(t.TempDir(), "c"+unfinishedExt)
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		s := reopenJournal(path)
		if s == nil {
			return
		}
		defer s.remove()
		n := 0
		for offset, err := range s.offsets() {
			if err == nil {
				_, err = s.readRecord(offset)
			}
			if err != nil {
				t.Fatal(err)
			}
			n++
		}
		if n != s.count || s.endOffset > int64(len(b)) {
			t.Fatalf("%d records of %d", n, s.count)
		}
		for _, err := range s.parts(partRoute) {
			if err != nil {
				t.Fatal(err)
			}
		}
	})
}
