package store

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gradeline/catalog"
)

// ownParts are the pieces of 24 bytes of a stored pass that no other pass has.
func ownParts(t *testing.T, passes []catalog.DrivePass, which int) (parts [][]byte) {
	t.Helper()
	packed := make([][]byte, len(passes))
	for i := range passes {
		row, err := driveRow(&passes[i])
		if err != nil {
			t.Fatal(err)
		}
		packed[i] = row[6].([]byte)
	}
	others := slices.Delete(slices.Clone(packed), which, which+1)
	for p := packed[which]; len(p) >= 24; p = p[24:] {
		if !slices.ContainsFunc(others, func(o []byte) bool { return bytes.Contains(o, p[:24]) }) {
			parts = append(parts, p[:24])
		}
	}
	return parts
}

// partsIn counts the pieces that the local copy in a cache folder, or a file next to it, holds.
func partsIn(t *testing.T, cache string, parts [][]byte) (n int) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(cache, "gradeline", "shared", "*", "*"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no local copy: %v", err)
	}
	return countParts(t, files, parts)
}

// countParts counts in how many files each of the parts is, in all.
func countParts(t *testing.T, files []string, parts [][]byte) (n int) {
	t.Helper()
	for _, f := range files {
		b, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range parts {
			if bytes.Contains(b, p) {
				n++
			}
		}
	}
	return n
}

// A drive that is forgotten in a database leaves the copy of who forgot it at once, and that of
// another office when it is next opened: the row, and every byte of it.
func TestForgettingReachesEveryCopy(t *testing.T) {
	db := inDatabase(t)
	first, second := t.TempDir(), t.TempDir()
	in := func(cache string) *Catalog {
		t.Setenv("XDG_CACHE_HOME", cache)
		return openAt(t, db.Address(), Options{Create: true})
	}
	a := in(first)
	save(t, a, survey("r", 3), SaveOptions{})
	var kept []catalog.DrivePass
	for k := range 40 { // large and small rows, so that pages are split
		kept = append(kept, keepDrives(t, a, drivePass(int64(k), "r", 100, 30+6*(k*7%40)*(k*7%40)))...)
		if k%8 == 7 {
			in(second).Close()
		}
	}
	for _, which := range []int{3, 17, 22} {
		parts := ownParts(t, kept, which)
		for _, cache := range []string{first, second} {
			if n := partsIn(t, cache, parts); n < len(parts)*9/10 {
				t.Fatalf("drive %d: the search finds %d of %d pieces before", which, n, len(parts))
			}
		}
		out, err := a.ForgetDrives(ctx, []int64{kept[which].Number}, "Ada")
		if err != nil || out.Passes != 1 {
			t.Fatalf("%+v, %v", out, err)
		}
		if n := partsIn(t, first, parts); n > 0 {
			t.Errorf("drive %d: %d of %d pieces in the copy of who forgot it", which, n, len(parts))
		}
		b := in(second)
		if got, err := b.Drives(ctx, "", false); err != nil || slices.ContainsFunc(got, func(p catalog.DrivePass) bool { return p.Number == kept[which].Number }) {
			t.Errorf("drive %d: another office still lists it, %v", which, err)
		}
		if n := partsIn(t, second, parts); n > 0 {
			t.Errorf("drive %d: %d of %d pieces in another office's copy", which, n, len(parts))
		}
		b.Close()
		if n := db.Ask(t, fmt.Sprintf("SELECT count(*) FROM gradeline.drives WHERE drive = %d", kept[which].Number)); n != "0" {
			t.Errorf("drive %d: %s rows in the database", which, n)
		}
	}
}
