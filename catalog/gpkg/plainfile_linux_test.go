package gpkg

import (
	"context"
	"errors"
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"gradeline/catalog"
)

// Pipes, sockets, devices and folders are refused at once, as the catalogue and where
// SQLite looks for its journals, for reading and for writing.
func TestWhatIsNoFileIsRefusedAtOnce(t *testing.T) {
	dir := t.TempDir()
	fifo, sock := filepath.Join(dir, "fifo.gpkg"), filepath.Join(dir, "sock.gpkg")
	if err := syscall.Mkfifo(fifo, 0o600); err != nil {
		t.Fatal(err)
	}
	l, err := net.Listen("unix", sock)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	link := filepath.Join(dir, "link.gpkg")
	if err := os.Symlink(fifo, link); err != nil {
		t.Fatal(err)
	}
	paths := []string{fifo, sock, link, dir, "/dev/null", "/dev/tty", "/dev/zero"}
	for _, end := range []string{"-journal", "-wal", "-shm"} {
		path := copyFile(t, withRows(t))
		if err := syscall.Mkfifo(path+end, 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, path)
	}
	for _, path := range paths {
		for _, o := range []Options{{}, {ReadOnly: true}, {Create: true}} {
			done := make(chan error, 1)
			go func() {
				c, err := Open(ctx, path, o)
				if err == nil {
					c.Close()
				}
				done <- err
			}()
			select {
			case err := <-done:
				if !errors.Is(err, catalog.ErrNotOurs) || !strings.Contains(err.Error(), "not a file") {
					t.Errorf("%s: %v", path, err)
				}
			case <-time.After(2 * time.Second):
				t.Fatalf("%s: still waits", path)
			}
		}
	}
}

// A file system that does not answer holds nobody whose context ends.
func TestOpeningEndsWithItsContext(t *testing.T) {
	stop, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := Open(stop, filepath.Join(t.TempDir(), "x.gpkg"), Options{}); !errors.Is(err, context.Canceled) && !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("%v", err)
	}
}

// A new catalogue has the rights that the user's umask leaves.
func TestTheUmaskIsObeyed(t *testing.T) {
	defer syscall.Umask(syscall.Umask(0o027))
	_, path := fresh(t)
	if st, err := os.Stat(path); err != nil || st.Mode().Perm() != 0o640 {
		t.Errorf("%v, %v", st.Mode(), err)
	}
}
