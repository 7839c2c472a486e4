package wholefile

import (
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
	"time"
)

// namesIn lists a folder.
func namesIn(t *testing.T, dir string) (names []string) {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		names = append(names, e.Name())
	}
	return names
}

// While a file is written its folder shows nothing of it, so a killed program leaves nothing.
func TestAFileHasNoNameUntilItIsComplete(t *testing.T) {
	dir := t.TempDir()
	f, ok := createUnnamed(dir)
	if !ok {
		t.Skipf("%s: no files without a name on %s", dir, runtime.GOOS)
	}
	f.Close()
	path := filepath.Join(dir, "a.csv")
	for _, force := range []bool{false, true} {
		before := len(namesIn(t, dir))
		err := WriteFile(path, force, func(w io.Writer) error {
			if names := namesIn(t, dir); len(names) != before {
				t.Errorf("force %v: while it is written: %v", force, names)
			}
			_, err := io.WriteString(w, "x")
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		if names := namesIn(t, dir); len(names) != 1 || names[0] != "a.csv" {
			t.Errorf("force %v: after it: %v", force, names)
		}
	}
}

// Where a file cannot stay without a name, it is written under a temporary one.
func TestAFileWithATemporaryName(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	p, err := createNamed(path)
	if err != nil {
		t.Fatal(err)
	}
	if names := namesIn(t, dir); len(names) != 1 || names[0] == "a.csv" {
		t.Errorf("%v", names)
	}
	if _, err := io.WriteString(p, "x"); err != nil {
		t.Fatal(err)
	}
	if err := p.publish(path, false); err != nil {
		t.Fatal(err)
	}
	p.discard()
	if b, err := os.ReadFile(path); string(b) != "x" || err != nil || len(namesIn(t, dir)) != 1 {
		t.Errorf("%q, %v, %v", b, err, namesIn(t, dir))
	}
	q, err := createNamed(path)
	if err != nil {
		t.Fatal(err)
	}
	q.discard()
	if names := namesIn(t, dir); len(names) != 1 {
		t.Errorf("discarded: %v", names)
	}
}

// What a killed program has left is removed by the next write of that file: not what is young, held
// by a living program, or of another name.
func TestLeftFilesAreRemoved(t *testing.T) {
	dir := t.TempDir()
	const dead, young, held, foreign, other = ".a.csv.17.tmp", ".a.csv.18.tmp", ".a.csv.19.tmp", ".a.csv.x.tmp", ".b.csv.20.tmp"
	for _, name := range []string{dead, young, held, foreign, other} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("half"), 0o644); err != nil {
			t.Fatal(err)
		}
		if old := time.Now().Add(-2 * leftAfter); name != young {
			if err := os.Chtimes(path, old, old); err != nil {
				t.Fatal(err)
			}
		}
	}
	f, err := os.Open(filepath.Join(dir, held))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if err := lockNow(f); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(filepath.Join(dir, "a.csv"), false, func(io.Writer) error { return nil }); err != nil {
		t.Fatal(err)
	}
	left := map[string]bool{}
	for _, name := range namesIn(t, dir) {
		left[name] = true
	}
	if left[dead] || !left[young] || !left[held] || !left[foreign] || !left[other] || !left["a.csv"] {
		t.Errorf("%v", left)
	}
}
