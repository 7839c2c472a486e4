package wholefile

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Open opens an input file for reading. It refuses devices and sockets, which never end. fix tells
// the reader of the fault which file is expected.
func Open(path, fix string) (*os.File, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, &catalog.Fault{Kind: terrain.ErrRead, File: path, What: "cannot be opened", Err: WithoutPath(err), Fix: fix}
	}
	info, err := f.Stat()
	if err == nil && info.Mode()&(os.ModeDevice|os.ModeCharDevice|os.ModeSocket) == 0 {
		return f, nil
	}
	f.Close()
	return nil, &catalog.Fault{Kind: terrain.ErrRead, File: path, What: "is a device, not a file", Err: WithoutPath(err), Fix: fix}
}

// CheckTarget reports early, before long work, that WriteFile cannot write a file.
func CheckTarget(path string, force bool) error {
	if _, err := os.Stat(path); err == nil && !force {
		return exists(path)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return cannotWrite(path, err)
	}
	_ = f.Close()
	return os.Remove(f.Name())
}

// WithoutPath removes the path from an error of package os, for a fault that names the file itself.
func WithoutPath(err error) error {
	if pe := (*fs.PathError)(nil); errors.As(err, &pe) {
		return pe.Err
	}
	return err
}
