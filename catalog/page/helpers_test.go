package page

import (
	"bytes"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
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

func says(t *testing.T, what, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("%s lacks %q: %.1500s", what, w, text)
		}
	}
}

func saysNot(t *testing.T, what, text string, not ...string) {
	t.Helper()
	for _, w := range not {
		if strings.Contains(text, w) {
			t.Errorf("%s says %q", what, w)
		}
	}
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

func ptr[T any](v T) *T { return &v }

// run runs a program that the tests need and returns what it printed.
func run(t *testing.T, pkg, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s, from Debian's %s: %v", name, pkg, err)
	}
	return string(out)
}

// inWords is the page of a sheet in words.
func inWords(t *testing.T, s Sheet) sheetPage {
	t.Helper()
	p, err := s.page()
	if err != nil {
		t.Fatal(err)
	}
	return p
}
