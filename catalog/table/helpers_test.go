package table

import (
	"bytes"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"gradeline/catalog/wholefile"
)

func write(t *testing.T, f func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := f(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// lookDir, given as -look DIR, keeps what the tests draw, to be looked at.
var lookDir = flag.String("look", "", "folder that keeps what the tests draw")

// keep runs a writer, saves what it wrote where -look says, and returns it.
func keep(t *testing.T, name string, write func(io.Writer) error) []byte {
	t.Helper()
	dir := *lookDir
	if dir == "" {
		dir = t.TempDir()
	}
	path := filepath.Join(dir, name)
	if err := wholefile.WriteFile(path, true, write); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// run runs a program that the tests need and returns what it printed.
func run(t *testing.T, pkg, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s, from Debian's %s: %v", name, pkg, err)
	}
	return string(out)
}
