package specimen

import (
	"bytes"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// lookDir, set by -look DIR, is a folder for the drawings of the tests, to be inspected.
var lookDir = flag.String("look", "", "folder for the drawings of the tests")

// Written returns the output of a function that writes.
func Written(t *testing.T, write func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Kept is Written, and also stores the output under a file name in the folder of -look.
func Kept(t *testing.T, name string, write func(io.Writer) error) []byte {
	t.Helper()
	b := Written(t, write)
	if *lookDir != "" {
		if err := os.WriteFile(filepath.Join(*lookDir, name), b, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

// Says fails the test for each text that is missing.
func Says(t *testing.T, what, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("%s lacks %q: %.1500s", what, w, text)
		}
	}
}

// Printed runs a program that the tests need, from Debian's package pkg, and returns its output.
func Printed(t *testing.T, pkg, name string, args ...string) string {
	t.Helper()
	out, err := exec.Command(name, args...).Output()
	if err != nil {
		t.Fatalf("%s, from Debian's %s: %v", name, pkg, err)
	}
	return string(out)
}
