package gpkg

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Fault converts a library's error to a fault with what is wrong, where, and what to do. Faults,
// cancellations and nil pass unchanged.
func (c *File) Fault(err error, doing string) error { return faultOf(c.path, err, doing) }

func faultOf(path string, err error, doing string) error {
	var f *Fault
	if err == nil || errors.As(err, &f) || errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return err
	}
	out := &Fault{File: path, Err: err}
	var se sqlite3.Error
	if !errors.As(err, &se) {
		out.Kind, out.What = terrain.ErrRead, "failed while "+doing
		if errors.Is(err, os.ErrPermission) {
			out.Kind, out.What, out.Fix = ErrWrite, "permission denied", "check who owns the file and its folder"
		}
		return out
	}
	switch se.Code {
	case sqlite3.ErrBusy, sqlite3.ErrLocked:
		out.Kind, out.What, out.Fix, out.Err = catalog.ErrBusy, "in use by "+lockOwner(path), "wait until it has finished, then try again", nil
	case sqlite3.ErrFull:
		out.Kind, out.What, out.Fix = ErrWrite, "the disk is full"+HeldBefore, "free some space and run it again"
	case sqlite3.ErrReadonly, sqlite3.ErrPerm, sqlite3.ErrAuth:
		out.Kind, out.What, out.Fix = ErrWrite, "the file or its folder cannot be written", "check permissions, or copy the catalogue to a folder of your own"
	case sqlite3.ErrCantOpen:
		out.Kind, out.What, out.Fix = ErrWrite, "cannot open the file or its journal", "check that the folder "+filepath.Dir(path)+" exists and can be written"
	case sqlite3.ErrIoErr:
		out.Kind, out.What, out.Fix = ErrWrite, "the disk failed or is full"+HeldBefore, "check the disk and its free space"
	case sqlite3.ErrNotADB:
		out.Kind, out.What, out.Fix = catalog.ErrNotOurs, "not a catalogue: not an SQLite file, or damaged", "name a catalogue, or restore the last copy"
	case sqlite3.ErrCorrupt:
		out.Kind, out.What, out.Fix = terrain.ErrRead, "the file is damaged", "restore the last copy, or see with doctor what is left"
	case sqlite3.ErrConstraint:
		out.Kind, out.What, out.Fix = terrain.ErrInput, "refused by a rule of the catalogue while "+doing, "run doctor on the catalogue"
	default:
		out.Kind, out.What, out.Fix = terrain.ErrRead, "failed while "+doing, "run doctor on the catalogue"
	}
	return out
}

// HeldBefore is the end of the message of a fault that left the file unchanged.
const HeldBefore = "; the file is unchanged"

// NotMade is the end of the message of a fault after which there is still no file.
func NotMade(err error) error {
	var f *Fault
	if errors.As(err, &f) {
		f.What = strings.TrimSuffix(f.What, HeldBefore) + "; no file was made"
	}
	return err
}

func isNoTransaction(err error) bool {
	return strings.Contains(err.Error(), "no transaction is active")
}
