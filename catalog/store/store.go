// Package store is the catalogue for other packages: descents with their advice and reviews,
// routes, sites and history, in one file. It joins package gpkg, which reads and writes the file,
// and package resurvey, which compares a new survey with an older one. Open returns a Catalog;
// SaveRoute or BeginSurvey store a survey; Descents, Each, Descent, Sites, Queue and History
// read; Review, Accept and Refuse record people's decisions; Merge adds another catalogue, Subset
// copies a part, Doctor and Repair search for damage.
//
// Every change is one transaction: a program killed at any moment leaves the last
// complete change. No record of a person is deleted unless someone asks for it.
// Geometries are WGS 84, longitude and latitude in degrees, Z the grade line's
// height in metres in the raster's vertical datum (named in the provenance), M the
// station in metres.
package store

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"sync/atomic"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/catalog/resurvey"
	"gradeline/catalog/shared"
)

// Types of the packages below, under the names that callers need.
type (
	Fault       = catalog.Fault
	Options     = gpkg.Options
	Waiting     = gpkg.Waiting
	Defect      = gpkg.Defect
	RouteRecord = resurvey.RouteRecord
	Tangent     = resurvey.Tangent
	ClassUsed   = resurvey.ClassUsed
	RouteSurvey = resurvey.RouteSurvey
	Changes     = resurvey.Changes
	Move        = resurvey.Move
	Shift       = resurvey.Shift
	Conflict    = resurvey.Conflict
	HoldChange  = resurvey.HoldChange
	Question    = resurvey.Question
)

// ErrWrite is the kind of fault for what cannot be written: a full disk, a
// read-only folder.
var ErrWrite = gpkg.ErrWrite

// Catalog is an open catalogue. It is safe for concurrent use; its writers wait
// for each other.
type Catalog struct {
	file     *gpkg.File
	batch    atomic.Pointer[Survey]            // that holds the file between its saves
	whyStale func(holds []catalog.Hold) string // see QuestionHolds; nil for never
}

// Open opens a catalogue. Faults: ErrNotFound for a missing file, ErrNotOurs for
// any other SQLite file, GeoPackage or file, ErrNewer, ErrBusy, ErrWrite, and
// terrain.ErrRead for a damaged or truncated one. What an interrupted writer
// left half done is rolled back. For reading, neither the file nor its folder need
// be writable. The path may be the address of a database, see package shared.
func Open(ctx context.Context, path string, o Options) (*Catalog, error) {
	open := gpkg.Open
	if shared.IsAddress(path) {
		open = shared.Open
	}
	f, err := open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	return &Catalog{file: f}, nil
}

// Path is the file as it was named to Open, or the address of the database, without a password.
func (c *Catalog) Path() string { return c.file.Path() }

// LocalPath is the path of the file; for a database, that of its local copy.
func (c *Catalog) LocalPath() string { return c.file.LocalPath() }

// IsShared reports whether the catalogue is in a database.
func (c *Catalog) IsShared() bool { return c.file.IsCopy() }

// Exists reports whether there is a file at a path, or a catalogue at an address.
func Exists(ctx context.Context, path string) (bool, error) {
	if shared.IsAddress(path) {
		return shared.Exists(ctx, path)
	}
	_, err := os.Stat(path)
	return err == nil, nil
}

// Version is the version of the SQLite library in use.
func Version() string { return gpkg.Version() }

// Close releases the file. An unfinished change is rolled back, and a batch that
// was neither closed nor aborted is aborted.
func (c *Catalog) Close() error {
	var err error
	if s := c.batch.Load(); s != nil {
		err = s.Abort()
	}
	return errors.Join(err, c.file.Close())
}

// NameOf is the name of a catalogue for messages: an address without its password.
func NameOf(path string) string { return shared.NameOf(path) }

// WithoutPasswords takes passwords out of a text that may quote an address, or what was meant as one.
func WithoutPasswords(text string) string { return shared.WithoutPasswords(text) }

// CopyTo writes a complete copy of the catalogue, row for row, to a new file, or to the address of a
// database that has no catalogue yet.
func (c *Catalog) CopyTo(ctx context.Context, path string) error {
	if !shared.IsAddress(path) {
		return c.file.CopyTo(ctx, path)
	}
	return c.toDatabase(ctx, path, func(file string) error { return c.file.CopyTo(ctx, file) })
}

// toDatabase makes a catalogue in a database of a file that f writes.
func (c *Catalog) toDatabase(ctx context.Context, address string, f func(file string) error) error {
	if err := shared.CheckEmpty(ctx, address); err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "gradeline-copy-")
	if err != nil {
		return &Fault{Kind: ErrWrite, What: "no folder for a copy of the catalogue", Err: err, Fix: "set TMPDIR to a folder with space"}
	}
	defer os.RemoveAll(dir)
	file := filepath.Join(dir, "copy.gpkg")
	if err := f(file); err != nil {
		return err
	}
	return shared.Upload(ctx, address, file, c.file.Tool())
}
