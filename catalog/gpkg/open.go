package gpkg

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Open opens a catalogue. Faults: ErrNotFound for a missing file, ErrNotOurs for any
// other SQLite file, GeoPackage or file, ErrNewer, ErrBusy, ErrWrite, and
// terrain.ErrRead for a damaged or truncated one. The unfinished change of an
// interrupted writer is rolled back. For reading, the file and its folder may be
// read-only.
func Open(ctx context.Context, path string, o Options) (*File, error) {
	return openFile(ctx, path, o, false)
}

func openFile(ctx context.Context, path string, o Options, anySchema bool) (*File, error) {
	registerDrivers()
	if o.BusyTimeout == 0 {
		o.BusyTimeout = 5 * time.Second
	}
	c := &File{path: path, opt: o, anySchema: anySchema, turns: make(chan struct{}, mostReaders)}
	switch err := checkPlainFile(ctx, path); {
	case err == nil:
	case errors.Is(err, catalog.ErrNotOurs), ctx.Err() != nil:
		return nil, err
	case !errors.Is(err, os.ErrNotExist):
		return nil, &Fault{Kind: terrain.ErrRead, File: path, What: "cannot be opened", Err: err, Fix: "check the path and who owns it"}
	case !o.Create || o.ReadOnly:
		return nil, &Fault{Kind: catalog.ErrNotFound, File: path, What: "no such catalogue", Fix: "check the name, or create it with a survey"}
	default:
		if err := c.create(ctx); err != nil {
			return nil, err
		}
	}
	if err := c.patiently(false, false, func() error { return c.open(ctx) }); err != nil {
		c.Close()
		return nil, err
	}
	return c, nil
}

// dsn names the file to SQLite; characters that mean something in a URI are escaped.
func (c *File) dsn(path, mode string) (string, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return "", &Fault{Kind: terrain.ErrRead, File: path, What: "cannot be opened", Err: err}
	}
	wait := max(0, c.opt.BusyTimeout.Milliseconds())
	return fmt.Sprintf("file:%s?mode=%s&_foreign_keys=on&_mutex=no&_busy_timeout=%d", (&url.URL{Path: abs}).EscapedPath(), mode, wait), nil
}

// pool opens the file with no connection made yet.
func (c *File) pool(path, mode string) (*sql.DB, error) {
	dsn, err := c.dsn(path, mode)
	if err != nil {
		return nil, err
	}
	if strings.HasPrefix(mode, "ro") {
		return sql.Open(readDriver, dsn)
	}
	return sql.Open(writeDriver, dsn)
}

// create makes a complete empty catalogue or none: in the same folder, synced, then linked into
// place, which fails if another program was faster.
func (c *File) create(ctx context.Context) error {
	tmp, err := createBeside(c.path)
	if err != nil {
		return &Fault{Kind: ErrWrite, File: c.path, What: "cannot create the catalogue", Err: err, Fix: "check that its folder exists, can be written and has space"}
	}
	defer os.Remove(tmp.Name())
	defer tmp.Close()
	if _, err := os.Lstat(c.path); err == nil { // another program has just created it
		return nil
	}
	if err := CheckNoJournal(c.path); err != nil {
		return err
	}
	db, err := c.pool(tmp.Name(), "rw")
	if err != nil {
		return err
	}
	defer db.Close()
	if err := errors.Join(writeSchema(ctx, db, c.opt.Tool, c.NowStamp()), db.Close()); err != nil {
		return NotMade(c.Fault(err, "making the catalogue"))
	}
	if err := tmp.Sync(); err == nil {
		err = os.Link(tmp.Name(), c.path)
		if err == nil || errors.Is(err, os.ErrExist) {
			return SyncDir(filepath.Dir(c.path))
		}
	}
	// A file system without hard links: rename, after one more look.
	if _, err := os.Stat(c.path); err == nil {
		return nil
	}
	if err := os.Rename(tmp.Name(), c.path); err != nil {
		return &Fault{Kind: ErrWrite, File: c.path, What: "cannot create the catalogue", Err: err, Fix: "check that its folder can be written"}
	}
	return SyncDir(filepath.Dir(c.path))
}

// createBeside makes an empty file of a new name in the folder of path, with the rights of the
// user's umask.
func createBeside(path string) (*os.File, error) {
	for {
		name := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%d.tmp", filepath.Base(path), rand.Uint32()))
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if !errors.Is(err, os.ErrExist) {
			return f, err
		}
	}
}

// CheckNoJournal refuses a name with the journal of an interrupted change of an older file: SQLite
// would roll that change into the new file.
func CheckNoJournal(path string) error {
	for _, ext := range []string{"-journal", "-wal"} {
		if st, err := os.Lstat(path + ext); err == nil && st.Size() > 0 {
			return &Fault{Kind: ErrWrite, File: path + ext, What: "is left of an interrupted change to a file of this name, and would spoil a new one",
				Fix: "open the old file once (doctor), or remove this one, or choose another name"}
		}
	}
	return nil
}

// SyncDir makes a rename in a folder durable.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return &Fault{Kind: ErrWrite, File: dir, What: "cannot sync the folder", Err: err}
	}
	defer d.Close()
	// Some file systems cannot sync a folder; the rename itself has happened.
	if err := d.Sync(); err != nil && !errors.Is(err, errors.ErrUnsupported) {
		var pe *os.PathError
		if !errors.As(err, &pe) {
			return &Fault{Kind: ErrWrite, File: dir, What: "cannot sync the folder", Err: err}
		}
	}
	return nil
}

// open checks the file's first bytes, opens its pools, and checks that it is ours.
func (c *File) open(ctx context.Context) error {
	hot, wal := HasJournal(c.path), false
	if !hot {
		var err error
		wal, err = sniff(c.path)
		if err == nil && wal && !c.opt.ReadOnly {
			err = c.leaveWAL(ctx)
		}
		if err != nil {
			return err
		}
	}
	var err error
	if c.rdb, err = c.pool(c.path, "ro"); err != nil {
		return c.Fault(err, "opening")
	}
	c.rdb.SetMaxOpenConns(mostReaders + 2) // two for the checks of Open
	if hot {
		// Only a connection that may write can roll an interrupted change back.
		if err := c.recover(ctx); err != nil {
			return err
		}
		if _, err := sniff(c.path); err != nil {
			return err
		}
	}
	if wal && c.opt.ReadOnly {
		if err := c.readAsFound(ctx); err != nil {
			return err
		}
	}
	version, err := c.identify(ctx)
	if err != nil {
		return err
	}
	c.schemaVersion = version
	if c.opt.ReadOnly { // an older version is read unchanged
		return nil
	}
	if c.wdb, err = c.pool(c.path, "rw"); err != nil {
		return c.Fault(err, "opening")
	}
	c.wdb.SetMaxOpenConns(1)
	if err := c.prepareWriter(ctx); err != nil {
		return err
	}
	return c.migrate(ctx, version)
}

// prepareWriter keeps a large change in memory until its commit, so that readers are not blocked in
// the meantime.
func (c *File) prepareWriter(ctx context.Context) error {
	conn, err := c.wdb.Conn(ctx)
	if err != nil {
		return c.Fault(err, "opening")
	}
	if err := c.adoptWriter(conn); err != nil {
		return c.Fault(err, "opening")
	}
	_, err = conn.ExecContext(ctx, "PRAGMA cache_spill = OFF; PRAGMA cache_size = -65536")
	return c.Fault(err, "opening")
}

// leaveWAL ends the write-ahead mode that another program set: a copy of the file would lack the
// changes in the log. While that program has the file open, the mode stays; doctor reports it.
func (c *File) leaveWAL(ctx context.Context) error {
	db, err := c.pool(c.path, "rw")
	if err != nil {
		return c.Fault(err, "opening")
	}
	defer db.Close()
	var mode string
	err = c.Fault(db.QueryRowContext(ctx, "PRAGMA journal_mode = DELETE").Scan(&mode), "leaving write-ahead mode")
	if errors.Is(err, catalog.ErrBusy) {
		return nil
	}
	return err
}

// HasJournal reports whether there is a journal that may hold rows that a change was about to
// overwrite; one that begins with a zero does not.
func HasJournal(path string) bool {
	f, err := os.Open(path + "-journal")
	if err != nil {
		return errors.Is(err, os.ErrPermission)
	}
	defer f.Close()
	var first [1]byte
	n, err := f.Read(first[:])
	return n == 1 && first[0] != 0 || err != nil && err != io.EOF
}

// recover rolls back the change of an interrupted writer; SQLite itself leaves the journal of a
// running writer alone.
func (c *File) recover(ctx context.Context) error {
	db, err := c.pool(c.path, "rw")
	if err != nil {
		return c.Fault(err, "opening")
	}
	defer db.Close()
	var n int
	if err := db.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_master").Scan(&n); err != nil {
		f := c.Fault(err, "rolling an interrupted change back")
		if errors.Is(f, ErrWrite) {
			return &Fault{Kind: ErrWrite, File: c.path, What: "a change was interrupted and must be rolled back, but the file or its folder cannot be written", Fix: "open it once where it can be written", Err: err}
		}
		return f
	}
	return nil
}

// sniff reads the header of the file (sqlite.org/fileformat2.html section 1.3): whether it is an
// SQLite file, whether it has its stated length, and whether it is in write-ahead mode.
func sniff(path string) (wal bool, err error) {
	f, err := os.Open(path)
	if err != nil {
		return false, &Fault{Kind: terrain.ErrRead, File: path, What: "cannot be opened", Err: err, Fix: "check who owns it"}
	}
	defer f.Close()
	st, err := f.Stat()
	if err != nil || !st.Mode().IsRegular() {
		return false, &Fault{Kind: catalog.ErrNotOurs, File: path, What: "not a file", Err: err, Fix: "name a catalogue file"}
	}
	var h [100]byte
	if _, err := io.ReadFull(f, h[:]); err != nil || string(h[:16]) != "SQLite format 3\x00" {
		return false, &Fault{Kind: catalog.ErrNotOurs, File: path, What: "not a catalogue: not an SQLite file", Fix: "name a catalogue made by a survey"}
	}
	page := int64(binary.BigEndian.Uint16(h[16:]))
	if page == 1 {
		page = 65536
	}
	pages := int64(binary.BigEndian.Uint32(h[28:]))
	counted := binary.BigEndian.Uint32(h[24:]) == binary.BigEndian.Uint32(h[92:])
	if counted && st.Size() < pages*page {
		return false, &Fault{Kind: terrain.ErrRead, File: path, What: fmt.Sprintf("truncated: %d of %d bytes are there", st.Size(), pages*page), Fix: "restore the last copy"}
	}
	return h[18] == 2, nil
}
