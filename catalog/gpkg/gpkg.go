// Package gpkg keeps a catalogue's tables in one SQLite file that is also a valid OGC
// GeoPackage 1.3 (OGC 12-128r17), so that any GIS opens it directly. It knows the file,
// the schema and its migrations, rows, locks and geometries. It does not know the
// meaning of the rows; package store does.
//
// Every change is one transaction: a program killed at any moment leaves the
// last complete change. There is one writer at a time, and any number of readers.
// Geometries are WGS 84, longitude and latitude in degrees; of a line, Z is a
// height in metres and M a station in metres.
//
// Errors are Faults: of kind ErrNotFound, ErrNotOurs, ErrNewer and ErrBusy of
// package catalog, ErrWrite of this one, and terrain.ErrRead for damage.
package gpkg

import (
	"cmp"
	"database/sql"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
)

// Fault is the place-carrying error of this module; see terrain.Fault.
type Fault = catalog.Fault

// ErrWrite is the kind of fault for a file that cannot be written: a full disk, a
// read-only folder.
var ErrWrite = errors.New("cannot write")

// ErrSchema is the kind of fault for a file that holds more than data: triggers, views
// or definitions that no version of this program wrote. It is an ErrNotOurs too.
var ErrSchema = fmt.Errorf("its schema is refused: %w", catalog.ErrNotOurs)

// Options set how a catalogue is opened.
type Options struct {
	ReadOnly    bool             // never writes, except to roll back what an interrupted writer left
	Create      bool             // make the file if there is none
	BusyTimeout time.Duration    // how long to wait for another writer; 0 is 5 s, negative does not wait
	Tool        string           // name and version of the program, kept in the file
	Now         func() time.Time // clock for the history; nil is time.Now
	// Waiting is called once for each longer wait for another program. It runs in another goroutine
	// and has returned before the waiting call does. It may be nil.
	Waiting func(Waiting)

	Name   string         // address of the database of which the file is the copy, for messages; empty for a file of its own
	Shared SharedDatabase // that database; nil where the file is only read, or is a file of its own
}

// File is an open catalogue file. It is safe for concurrent use; its writers wait
// for each other.
type File struct {
	path string
	opt  Options
	rdb  *sql.DB // readers
	wdb  *sql.DB // the one writer; nil when read-only

	schemaVersion int // of the tables as they were opened or brought up to date

	found *asFound // not nil: opened as a file that no program changes

	schemaMu   sync.Mutex
	goodSchema []schemaRow // the last checked state
	anySchema  bool        // opened for doctor: refused definitions are only listed
	refused    []schemaFault

	turns  chan struct{} // one for each reader at work
	idleMu sync.Mutex
	idle   []*reader
	keptB  atomic.Int64 // of all readers, see Kept

	mu            sync.Mutex // held through a change
	w             *sql.Conn
	stmts         map[string]*sql.Stmt // prepared on w
	d             *Direct              // on w
	indexes       indexCheck
	repairs       bool       // damage is being repaired: indexes are not compared first
	definesSchema bool       // this program makes, migrates or repairs the file
	changed       rowChanges // rows that the running change has changed, in the copy of a database; else nil
	indexed       bool       // a feature is being inserted with its row of the R-tree, see InsertIndexed
}

// Path is the file as it was named to Open; of the copy of a database, the database's address.
func (c *File) Path() string { return cmp.Or(c.opt.Name, c.path) }

// HasSeals reports whether the rows of the file have check sums: version 1 had none.
func (c *File) HasSeals() bool { return c.schemaVersion >= 2 }

// HasSteepParts reports whether the file has the table of steep parts: version 6 brought it.
func (c *File) HasSteepParts() bool { return c.schemaVersion >= 6 }

// HasRowSums reports whether roads, provenance, classes, reviews, proposals, history and sites have
// check sums: version 7 brought them.
func (c *File) HasRowSums() bool { return c.schemaVersion >= 7 }

// HasDrives reports whether the file has the table of recorded drives: version 8 brought it.
func (c *File) HasDrives() bool { return c.schemaVersion >= 8 }

// HasPacked reports whether the file has the tables of packed details: version 5 brought them.
func (c *File) HasPacked() bool { return c.schemaVersion >= 5 }

// Tool is the name and version of the program, as it was given to Open.
func (c *File) Tool() string { return c.opt.Tool }

// Version is the version of the SQLite library in use.
func Version() string { v, _, _ := sqlite3.Version(); return v }

// Close releases the file. An unfinished change is rolled back.
func (c *File) Close() error {
	c.mu.Lock()
	defer c.mu.Unlock()
	var errs []error
	if c.w != nil {
		errs = append(errs, c.closeWriter())
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
	if c.opt.Shared != nil {
		errs = append(errs, c.opt.Shared.Close())
	}
	return c.Fault(errors.Join(errs...), "closing")
}

// Now is the moment by the clock of Options.
func (c *File) Now() time.Time {
	if c.opt.Now != nil {
		return c.opt.Now()
	}
	return time.Now()
}

// NowStamp is Now as a DATETIME column holds it.
func (c *File) NowStamp() string { return Stamp(c.Now()) }
