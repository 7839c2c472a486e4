// Package wholefile writes a file completely or not at all, so that a killed program or a full disk
// never leaves half a file.
package wholefile

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/terrain"
)

// WriteFile writes a file completely or not at all: write fills a file without a name, or with a
// temporary one next to the target, which is synced and gets the target's name only after write has
// succeeded. Without force
// an existing target is refused, even one that appears while write runs. With force the target's
// permissions are kept.
func WriteFile(path string, force bool, write func(io.Writer) error) error {
	old, err := os.Lstat(path)
	switch {
	case err == nil && old.IsDir():
		return &catalog.Fault{Kind: terrain.ErrInput, File: path, What: "is a folder", Fix: "use the name of a file"}
	case err == nil && !force:
		return exists(path)
	case err != nil && !errors.Is(err, fs.ErrNotExist):
		return cannotWrite(path, err)
	}
	tmp, err := createPending(path)
	if err != nil {
		return cannotWrite(path, err)
	}
	defer tmp.discard() // has no effect on a file that has got its name
	if err := write(tmp.File); err != nil {
		return err
	}
	if old != nil && old.Mode().IsRegular() {
		err = tmp.Chmod(old.Mode().Perm())
	}
	err = errors.Join(err, tmp.Sync())
	if err != nil {
		return cannotWrite(path, err)
	}
	if err := tmp.publish(path, force); err != nil {
		return err
	}
	if dir, err := os.Open(filepath.Dir(path)); err == nil {
		_ = dir.Sync() // some file systems cannot sync a folder; the file itself is already safe
		dir.Close()
	}
	return nil
}

// giveName gives the finished file the target's name.
func giveName(finished, path string, force bool) error {
	if !force {
		switch err := os.Link(finished, path); { // unlike a rename, refuses an existing target
		case err == nil:
			return nil
		case errors.Is(err, fs.ErrExist):
			return exists(path)
		} // else a file system without hard links
	}
	if err := os.Rename(finished, path); err != nil {
		return cannotWrite(path, err)
	}
	return nil
}

func exists(path string) error {
	return &catalog.Fault{Kind: fs.ErrExist, File: path, What: "exists already", Fix: "choose another name, or add --force to replace it"}
}

func cannotWrite(path string, err error) error {
	return &catalog.Fault{File: path, What: "cannot be written", Err: err, Fix: "check that the folder exists, may be written to and has room"}
}
