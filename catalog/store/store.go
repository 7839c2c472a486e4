// Package store keeps the catalogue: one SQLite file that is also a valid OGC
// GeoPackage 1.3 (OGC 12-128r17), so that any GIS opens it as it is.
//
// Every change is one transaction: a program killed at any moment leaves the
// last whole change. One writer at a time, any number of readers. Nothing that a
// person recorded is deleted without being asked. Geometries are WGS 84,
// longitude and latitude in degrees, Z the grade line's height in metres in the
// raster's vertical datum (named in the provenance), M the station in metres.
package store

import (
	"context"
	"database/sql"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
)

// Fault is the place-carrying error of this module; see terrain.Fault.
type Fault = catalog.Fault

// ErrWrite is the kind of fault for what cannot be written: a full disk, a
// read-only folder.
var ErrWrite = errors.New("cannot write")

// Options says how to open a catalogue.
type Options struct {
	ReadOnly    bool             // never writes, except to roll back what an interrupted writer left
	Create      bool             // make the file if there is none
	BusyTimeout time.Duration    // how long to wait for another writer; 0 is 5 s, negative does not wait
	Tool        string           // name and version of the program, kept in the file
	Now         func() time.Time // clock for the history; nil is time.Now
	// Waiting is told once of each wait for another program that lasts; from another
	// goroutine, and it has returned before the call that waits does. nil tells nobody.
	Waiting func(Waiting)
}

// Catalog is an open catalogue. It is safe for concurrent use; its writers wait
// for each other.
type Catalog struct {
	path string
	opt  Options
	rdb  *sql.DB // readers
	wdb  *sql.DB // the one writer; nil when read-only

	found *asFound // not nil: opened as a file that nothing changes

	turns  chan struct{} // one for each reader at work
	idleMu sync.Mutex
	idle   []*reader

	batch atomic.Pointer[Survey] // that holds mu between its saves

	mu      sync.Mutex // held through a change
	w       *sql.Conn
	stmts   map[string]*sql.Stmt // prepared on w
	d       *direct              // on w
	indexed bool                 // a descent is being inserted with its row of the R-tree, see putIndexed
}

// Path is the file as it was named to Open.
func (c *Catalog) Path() string { return c.path }

// Version is the version of the SQLite library in use.
func Version() string { v, _, _ := sqlite3.Version(); return v }

// Close releases the file. An unfinished change is rolled back, and a batch that
// was neither closed nor aborted is aborted.
func (c *Catalog) Close() error {
	if s := c.batch.Load(); s != nil {
		s.Abort()
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	var errs []error
	if c.w != nil {
		errs = append(errs, c.leave())
	}
	if c.wdb != nil {
		errs = append(errs, c.wdb.Close())
		c.wdb = nil
	}
	c.idleMu.Lock()
	for _, r := range c.idle {
		r.close()
	}
	c.idle = nil
	c.idleMu.Unlock()
	if c.rdb != nil {
		errs = append(errs, c.rdb.Close())
	}
	return c.fault(errors.Join(errs...), "closing")
}

// stamp writes a moment as the GeoPackage standard wants it (OGC 12-128r17
// table 1: DATETIME, ISO 8601, UTC, milliseconds).
func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000Z") }

func (c *Catalog) now() string {
	if c.opt.Now != nil {
		return stamp(c.opt.Now())
	}
	return stamp(time.Now())
}

// change runs f in one write transaction; an error rolls it back.
func (c *Catalog) change(ctx context.Context, f func() error) error {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err := c.begin(ctx); err != nil {
		return err
	}
	if err := f(); err != nil {
		c.rollback()
		return c.fault(err, "writing")
	}
	return c.commit(ctx)
}

// begin takes the write lock of the file; c.mu must be held.
func (c *Catalog) begin(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.wdb == nil {
		return &Fault{Kind: ErrWrite, File: c.path, What: "opened for reading only", Fix: "open it for writing"}
	}
	if c.w == nil {
		conn, err := c.wdb.Conn(ctx)
		if err != nil {
			return c.fault(err, "opening")
		}
		if err := c.take(conn); err != nil {
			return c.fault(err, "opening")
		}
	}
	return c.fault(c.patiently(false, true, func() error { return c.untilFree(ctx, "BEGIN IMMEDIATE") }), "writing")
}

// commit ends the transaction: kept, or rolled back where it may not be, or where ctx
// ends while it waits for those who read.
func (c *Catalog) commit(ctx context.Context) error {
	err := c.patiently(true, false, func() error { return c.untilFree(ctx, "COMMIT") })
	if err != nil {
		c.rollback()
		return c.fault(err, "committing")
	}
	return nil
}

func (c *Catalog) rollback() {
	// A failed rollback leaves the connection unusable; SQLite rolls back when it closes.
	if _, err := c.w.ExecContext(context.Background(), "ROLLBACK"); err != nil && !isNoTransaction(err) {
		_ = c.leave()
	}
}

// exec runs one prepared statement of the writer.
func (c *Catalog) exec(query string, args ...any) (sql.Result, error) {
	s, err := c.prepared(query)
	if err != nil {
		return nil, err
	}
	return s.Exec(args...)
}

func (c *Catalog) prepared(query string) (*sql.Stmt, error) {
	if s := c.stmts[query]; s != nil {
		return s, nil
	}
	s, err := c.w.PrepareContext(context.Background(), query)
	if err == nil {
		c.stmts[query] = s
	}
	return s, err
}

// querier is what reads: the writer inside its change, or a read transaction.
type querier interface {
	query(query string, args ...any) (*sql.Rows, error)
	direct() *direct
}

func (c *Catalog) direct() *direct { return c.d }

func (c *Catalog) query(query string, args ...any) (*sql.Rows, error) {
	s, err := c.prepared(query)
	if err != nil {
		return nil, err
	}
	return s.Query(args...)
}

// each calls f for every row; f scans it.
func each(q querier, f func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := q.query(query, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := f(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

// one scans the first row into dest and reports whether there was one.
func one(q querier, dest []any, query string, args ...any) (bool, error) {
	found := false
	err := each(q, func(rows *sql.Rows) error {
		if found {
			return nil
		}
		found = true
		return rows.Scan(dest...)
	}, query, args...)
	return found, err
}
