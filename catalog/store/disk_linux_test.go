package store

import (
	"errors"
	"os"
	"os/signal"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"syscall"
	"testing"

	"gradeline/catalog"
)

// openFolder makes a folder that another user can look into, with a catalogue.
func openFolder(t *testing.T, roads int) (dir, path string, want []catalog.Entry) {
	t.Helper()
	dir, err := os.MkdirTemp("", "gradeline")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Chmod(dir, 0o755); os.RemoveAll(dir) })
	path = filepath.Join(dir, "hills.gpkg")
	c := open(t, path)
	save(t, c, survey("Kestrel Road", roads), SaveOptions{})
	want, err = c.Descents(ctx, Filter{})
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
	return dir, path, want
}

// asNobody runs f with the file rights of user nobody (Linux: setfsuid on this
// thread only), since no mode binds root; anyone else is bound already.
func asNobody(t *testing.T, f func()) {
	t.Helper()
	if os.Geteuid() != 0 {
		f()
		return
	}
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // never unlocked: the thread ends with the goroutine
		syscall.RawSyscall(syscall.SYS_SETFSUID, 65534, 0, 0)
		if id, _, _ := syscall.RawSyscall(syscall.SYS_SETFSUID, ^uintptr(0), 0, 0); id != 65534 {
			t.Error("cannot take another user's file rights")
			return
		}
		f()
	}()
	<-done
}

func TestReadOnlyFolder(t *testing.T) {
	dir, path, want := openFolder(t, 3)
	os.Chmod(path, 0o444)
	os.Chmod(dir, 0o555)
	asNobody(t, func() {
		c, err := Open(ctx, path, Options{ReadOnly: true})
		if err != nil {
			t.Errorf("reading: %v", err)
			return
		}
		if got, err := c.Descents(ctx, Filter{}); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("reading: %v", err)
		}
		_, err = c.Subset(ctx, filepath.Join(dir, "part.gpkg"), Filter{}, SubsetOptions{})
		wantWriteFault(t, "taking a part out", err)
		c.Close()
		if c, err = Open(ctx, path, Options{}); err == nil {
			_, err = c.SaveRoute(ctx, survey("Heron Pass", 1), SaveOptions{})
			c.Close()
		}
		wantWriteFault(t, "writing", err)
		_, err = Open(ctx, filepath.Join(dir, "new.gpkg"), Options{Create: true})
		wantWriteFault(t, "creating", err)
	})
	if l, _ := os.ReadDir(dir); len(l) != 1 {
		t.Errorf("left behind: %v", l)
	}
}

func wantWriteFault(t *testing.T, what string, err error) {
	t.Helper()
	var f *Fault
	if !errors.Is(err, ErrWrite) || !errors.As(err, &f) || f.File == "" || f.Fix == "" || strings.Contains(err.Error(), "\n") {
		t.Errorf("%s: %v", what, err)
		return
	}
	t.Logf("%s: %v", what, err)
}

// A file that may not grow: every write beyond the limit fails, as on a full
// disk (setrlimit(2), RLIMIT_FSIZE; the error is EFBIG where a disk gives ENOSPC).
func TestFileThatMayNotGrow(t *testing.T) {
	_, path, want := openFolder(t, 3)
	st, err := os.Stat(path)
	if err != nil {
		t.Fatal(err)
	}
	signal.Ignore(syscall.SIGXFSZ)
	defer signal.Reset(syscall.SIGXFSZ)
	var old syscall.Rlimit
	if err := syscall.Getrlimit(syscall.RLIMIT_FSIZE, &old); err != nil {
		t.Fatal(err)
	}
	if err := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &syscall.Rlimit{Cur: uint64(st.Size()) + 8192, Max: old.Max}); err != nil {
		t.Fatal(err)
	}
	c, err := Open(ctx, path, Options{})
	if err == nil {
		_, err = c.SaveRoute(ctx, survey("Heron Pass", 200), SaveOptions{})
	}
	if e := syscall.Setrlimit(syscall.RLIMIT_FSIZE, &old); e != nil {
		t.Fatal(e)
	}
	wantWriteFault(t, "growing", err)
	stillWhole(t, c, path, want)
}

// stillWhole checks that a failed change left what was there, and that the same
// handle can go on.
func stillWhole(t *testing.T, c *Catalog, path string, want []catalog.Entry) {
	t.Helper()
	got, err := c.Descents(ctx, Filter{})
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("not what was there before: %d descents, %v", len(got), err)
	}
	if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
		t.Errorf("doctor: %+v %v", f, err)
	}
	if _, err := c.SaveRoute(ctx, survey("Otter Grade", 1), SaveOptions{}); err != nil {
		t.Errorf("going on: %v", err)
	}
	c.Close()
	mustBeValid(t, path, "a failed change")
}

// A disk that is really full: a small tmpfs in a mount namespace of this thread
// (unshare(2)); where that is not allowed, the test above stands for it.
func TestFullDisk(t *testing.T) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		runtime.LockOSThread() // never unlocked: the namespace ends with the thread
		if err := syscall.Unshare(syscall.CLONE_NEWNS); err != nil {
			t.Logf("no mount namespace here (%v); TestFileThatMayNotGrow stands for it", err)
			return
		}
		dir := t.TempDir()
		if err := syscall.Mount("", "/", "", syscall.MS_REC|syscall.MS_PRIVATE, ""); err != nil {
			t.Logf("no private mounts here (%v); TestFileThatMayNotGrow stands for it", err)
			return
		}
		if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1200k"); err != nil {
			t.Logf("no tmpfs here (%v); TestFileThatMayNotGrow stands for it", err)
			return
		}
		defer syscall.Unmount(dir, syscall.MNT_DETACH)
		path := filepath.Join(dir, "hills.gpkg")
		c, err := Open(ctx, path, Options{Create: true, Now: clock})
		if err != nil {
			t.Error(err)
			return
		}
		if _, err := c.SaveRoute(ctx, survey("Kestrel Road", 3), SaveOptions{}); err != nil {
			t.Error(err)
			return
		}
		want, err := c.Descents(ctx, Filter{})
		if err != nil {
			t.Error(err)
			return
		}
		_, err = c.SaveRoute(ctx, survey("Heron Pass", 1000), SaveOptions{})
		wantWriteFault(t, "writing", err)
		if !strings.Contains(err.Error(), "full") {
			t.Errorf("it doesn't say that the disk is full: %v", err)
		}
		if got, err := c.Descents(ctx, Filter{}); err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("not what was there before: %v", err)
		}
		if f, err := c.Doctor(ctx); err != nil || len(f) != 0 {
			t.Errorf("doctor: %+v %v", f, err)
		}
		if _, err := c.SaveRoute(ctx, survey("Otter Grade", 1), SaveOptions{}); err != nil {
			t.Errorf("going on: %v", err)
		}
		if err := os.WriteFile(filepath.Join(dir, "filler"), make([]byte, 2<<20), 0o644); err == nil {
			t.Error("the disk is not full")
		}
		_, err = Open(ctx, filepath.Join(dir, "new.gpkg"), Options{Create: true})
		wantWriteFault(t, "creating", err)
		if !strings.Contains(err.Error(), "no file was made") {
			t.Errorf("it doesn't say that nothing was made: %v", err)
		}
		_, err = c.Subset(ctx, filepath.Join(dir, "part.gpkg"), Filter{}, SubsetOptions{})
		wantWriteFault(t, "taking a part out", err)
		if _, err := os.Stat(filepath.Join(dir, "new.gpkg")); err == nil {
			t.Error("half a catalogue was left")
		}
		if left, err := os.ReadDir(dir); err != nil || len(left) != 2 {
			t.Errorf("left: %v, %v", left, err)
		}
		c.Close()
	}()
	<-done
}
