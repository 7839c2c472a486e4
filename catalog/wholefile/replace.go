//go:build !js

package wholefile

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Replace writes a file of private data complete or not at all, readable by its owner only, and
// then overwrites the former contents with zeros. was is what the caller has read before; nil for
// a file that must not exist yet. A file that has changed since is left as it is.
//
// What a file system keeps elsewhere (snapshots, backups, spare blocks of a solid-state disk) is
// out of reach. Errors: fs.ErrExist for a file that has changed or appeared
// since, terrain.ErrInput for one with a second name.
func Replace(path string, was, b []byte) error {
	if to, err := filepath.EvalSymlinks(path); err == nil {
		path = to // a rename would replace the link and leave the data behind it
	}
	old, err := os.OpenFile(path, os.O_RDWR, 0)
	switch {
	case errors.Is(err, fs.ErrNotExist) && was == nil:
		return writePrivate(path, b, func(tmp string) error { return os.Link(tmp, path) })
	case err != nil:
		return cannotWrite(path, WithoutPath(err))
	}
	defer old.Close() // releases the lock too
	if err := lockAlone(old); err != nil {
		return cannotWrite(path, err)
	}
	now, err := os.ReadFile(path) // by name: another program may have replaced the file meanwhile
	if err != nil {
		return cannotWrite(path, WithoutPath(err))
	}
	if was == nil || !bytes.Equal(now, was) {
		return &catalog.Fault{Kind: fs.ErrExist, File: path, What: "was changed meanwhile by another program", Fix: "run the command again"}
	}
	info, err := old.Stat()
	if err != nil {
		return cannotWrite(path, WithoutPath(err))
	}
	if st, ok := info.Sys().(*syscall.Stat_t); ok && st.Nlink > 1 {
		return &catalog.Fault{Kind: terrain.ErrInput, File: path, What: fmt.Sprintf("has %d names (hard links), so its former contents would stay", st.Nlink), Fix: "remove the other names"}
	}
	if err := eraseLeftovers(path); err != nil {
		return err
	}
	if err := writePrivate(path, b, func(tmp string) error { return os.Rename(tmp, path) }); err != nil {
		return err
	}
	return erase(old, info.Size())
}

// eraseLeftovers erases and removes the temporary files that killed runs have left.
func eraseLeftovers(path string) error {
	list, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return cannotWrite(path, WithoutPath(err))
	}
	for _, e := range list {
		number, isOurs := strings.CutPrefix(e.Name(), "."+filepath.Base(path)+".")
		if !isOurs || !e.Type().IsRegular() || number == "" || strings.Trim(number, "0123456789") != "" {
			continue
		}
		f, err := os.OpenFile(filepath.Join(filepath.Dir(path), e.Name()), os.O_RDWR, 0)
		if err != nil {
			return cannotWrite(path, err)
		}
		info, err := f.Stat()
		if err == nil {
			err = errors.Join(erase(f, info.Size()), os.Remove(f.Name()))
		}
		if err = errors.Join(err, f.Close()); err != nil {
			return cannotWrite(path, err)
		}
	}
	return nil
}

// writePrivate writes a temporary file next to the target, which name turns into it.
func writePrivate(path string, b []byte, name func(tmp string) error) error {
	tmp, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*") // mode 0600
	if err != nil {
		return cannotWrite(path, WithoutPath(err))
	}
	defer os.Remove(tmp.Name()) // has no effect after a rename
	_, err = tmp.Write(b)
	if err = errors.Join(err, tmp.Sync()); err != nil {
		err = errors.Join(err, erase(tmp, int64(len(b))))
	}
	if err = errors.Join(err, tmp.Close()); err != nil {
		return cannotWrite(path, WithoutPath(err))
	}
	if err := name(tmp.Name()); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return &catalog.Fault{Kind: fs.ErrExist, File: path, What: "was made meanwhile by another program", Fix: "run the command again"}
		}
		return cannotWrite(path, err)
	}
	if dir, err := os.Open(filepath.Dir(path)); err == nil {
		_ = dir.Sync() // some file systems cannot sync a folder; the file itself is already safe
		dir.Close()
	}
	return nil
}

// erase overwrites a file's contents with zeros and cuts it off.
func erase(f *os.File, size int64) error {
	_, err := f.Seek(0, io.SeekStart)
	if err == nil {
		_, err = io.CopyN(f, zeros{}, size)
	}
	if err = errors.Join(err, f.Sync(), f.Truncate(0)); err != nil {
		return &catalog.Fault{Kind: terrain.ErrRead, File: f.Name(), What: "the former contents could not be overwritten", Err: WithoutPath(err), Fix: "check the disk"}
	}
	return nil
}

// zeros is a reader of zeros without end.
type zeros struct{}

func (zeros) Read(b []byte) (int, error) {
	clear(b)
	return len(b), nil
}
