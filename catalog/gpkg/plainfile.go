package gpkg

import (
	"context"
	"errors"
	"os"

	"gradeline/catalog"
)

// checkPlainFile refuses a path that is not a plain file, or whose journals are not plain files:
// opening a pipe would wait for ever. It ends with its context even if the file system does not
// answer.
func checkPlainFile(ctx context.Context, path string) error {
	done := make(chan error, 1)
	go func() { done <- plainFile(path) }()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

func plainFile(path string) error {
	st, err := os.Stat(path)
	if err != nil {
		return err
	}
	if !st.Mode().IsRegular() {
		return notAFile(path)
	}
	for _, end := range []string{"-journal", "-wal", "-shm"} {
		st, err := os.Stat(path + end)
		if err == nil && !st.Mode().IsRegular() {
			return notAFile(path + end)
		}
		if err != nil && !errors.Is(err, os.ErrNotExist) && !errors.Is(err, os.ErrPermission) {
			return err
		}
	}
	return nil
}

func notAFile(path string) error {
	return &Fault{Kind: catalog.ErrNotOurs, File: path, What: "not a file", Fix: "name a catalogue file"}
}
