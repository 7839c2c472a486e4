package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"gradeline/terrain"
)

// Replace makes a file, replaces it through a link, erases what it was, and refuses a file that has
// changed or has a second name.
func TestReplaceErases(t *testing.T) {
	dir := t.TempDir()
	path, link := filepath.Join(dir, "private"), filepath.Join(dir, "link")
	if err := Replace(path, nil, []byte("secret")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	old, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	if err := Replace(link, []byte("secret"), []byte("plain")); err != nil {
		t.Fatal(err)
	}
	if b, err := io.ReadAll(old); err != nil || len(b) != 0 {
		t.Errorf("the former file has %q, %v", b, err)
	}
	if b, err := os.ReadFile(path); err != nil || string(b) != "plain" {
		t.Errorf("%q, %v", b, err)
	}
	if to, err := os.Readlink(link); err != nil || to != path {
		t.Errorf("the link is %q, %v", to, err)
	}
	for _, was := range [][]byte{nil, []byte("secret")} {
		if err := Replace(path, was, []byte("x")); !errors.Is(err, fs.ErrExist) {
			t.Errorf("%q: %v", was, err)
		}
	}
	if err := os.Link(path, filepath.Join(dir, "second")); err != nil {
		t.Fatal(err)
	}
	if err := Replace(path, []byte("plain"), []byte("x")); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("two names: %v", err)
	}
	if err := Replace(filepath.Join(dir, "none"), []byte("was"), []byte("x")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a file that is gone: %v", err)
	}
	if list, err := os.ReadDir(dir); err != nil || len(list) != 3 {
		t.Errorf("%v, %v: a temporary file is left", list, err)
	}
}
