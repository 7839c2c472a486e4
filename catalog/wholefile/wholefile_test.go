package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

func TestWriteFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.csv")
	put := func(s string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
	}
	content := func() string { b, _ := os.ReadFile(path); return string(b) }
	if err := WriteFile(path, false, put("one")); err != nil || content() != "one" {
		t.Fatal(err, content())
	}
	if err := WriteFile(path, false, put("two")); !errors.Is(err, fs.ErrExist) || content() != "one" || !strings.Contains(err.Error(), "--force") {
		t.Errorf("overwrote without force: %v, %q", err, content())
	}
	if err := WriteFile(path, true, func(w io.Writer) error { put("half")(w); return io.ErrUnexpectedEOF }); !errors.Is(err, io.ErrUnexpectedEOF) || content() != "one" {
		t.Errorf("a failed write left %q: %v", content(), err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(path, true, put("three")); err != nil || content() != "three" {
		t.Errorf("%v, %q", err, content())
	}
	if st, _ := os.Stat(path); st.Mode().Perm() != 0o640 {
		t.Errorf("permissions became %v", st.Mode().Perm())
	}
	late := filepath.Join(dir, "late")
	if err := WriteFile(late, false, func(w io.Writer) error { return os.WriteFile(late, []byte("theirs"), 0o600) }); !errors.Is(err, fs.ErrExist) {
		t.Errorf("took the place of a file that appeared meanwhile: %v", err)
	}
	if err := WriteFile(filepath.Join(dir, "none", "a"), false, put("x")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("missing folder: %v", err)
	}
	if err := WriteFile(dir, true, put("x")); err == nil {
		t.Error("wrote over a folder")
	}
	left, _ := os.ReadDir(dir)
	if len(left) != 2 {
		t.Errorf("files left behind: %v", left)
	}
}

// A new file has the permissions that the umask leaves, as every tool's has.
func TestTheUmaskIsObeyed(t *testing.T) {
	for _, mask := range []int{0o022, 0o027, 0o077, 0o002} {
		path := filepath.Join(t.TempDir(), "a.csv")
		old := syscall.Umask(mask)
		err := WriteFile(path, false, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err })
		syscall.Umask(old)
		if err != nil {
			t.Fatal(err)
		}
		if st, err := os.Stat(path); err != nil || st.Mode().Perm() != fs.FileMode(0o666&^mask) {
			t.Errorf("umask %03o: %v, %v", mask, st.Mode(), err)
		}
	}
}
