package gpkg

import (
	"context"
	"errors"
	"os"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
	"gradeline/terrain"
)

// A file that another program left in write-ahead mode (any GIS may) needs two more
// files in the same folder even for reading (sqlite.org/wal.html, "Read-Only
// Databases"). In a read-only folder they can't be created. The last resort is to tell
// SQLite that the file never changes (sqlite.org/uri.html, immutable). That is safe as
// long as no other program changes it; each read checks for that.

// asFound is a file's size and time when it was opened as unchanging.
type asFound struct {
	size int64
	at   time.Time
}

// readAsFound reopens the readers as on an unchanging file, if a plain opening for reading fails
// because there is no place for the write-ahead files. It never does so with changes in such a log,
// or with a journal to roll back.
func (c *File) readAsFound(ctx context.Context) error {
	var n int
	var se sqlite3.Error
	err := c.rdb.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master").Scan(&n)
	if err == nil || !errors.As(err, &se) || se.Code != sqlite3.ErrReadonly && se.Code != sqlite3.ErrCantOpen {
		return c.Fault(err, "opening")
	}
	log, e := os.Stat(c.path + "-wal")
	if e == nil && log.Size() > 0 || e != nil && !errors.Is(e, os.ErrNotExist) {
		return &Fault{Kind: terrain.ErrRead, File: c.path, What: "its latest changes are in " + c.path + "-wal, and its folder cannot be written", Err: err,
			Fix: "copy both files to a folder of your own, or open it once where it can be written"}
	}
	st, e := os.Stat(c.path)
	if e != nil || HasJournal(c.path) {
		return c.Fault(errors.Join(err, e), "opening")
	}
	if err := c.rdb.Close(); err != nil {
		return c.Fault(err, "opening")
	}
	c.found = &asFound{st.Size(), st.ModTime()}
	c.rdb, err = c.pool(c.path, "ro&immutable=1")
	if err != nil {
		return c.Fault(err, "opening")
	}
	c.rdb.SetMaxOpenConns(mostReaders + 2)
	return nil
}

// CheckUnchanged fails when a file that was opened as unchanging has changed.
func (c *File) CheckUnchanged() error {
	if c.found == nil {
		return nil
	}
	st, err := os.Stat(c.path)
	log, e := os.Stat(c.path + "-wal")
	if err != nil || st.Size() != c.found.size || !st.ModTime().Equal(c.found.at) || e == nil && log.Size() > 0 {
		return &Fault{Kind: catalog.ErrBusy, File: c.path, What: "was changed while it was being read", Err: err, Fix: "open it again"}
	}
	return nil
}
