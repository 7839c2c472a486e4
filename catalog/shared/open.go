package shared

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/terrain"
)

// Open opens the catalogue at an address: its local copy, brought up to date. With o.Create an empty
// catalogue is made where there is none. Faults as gpkg.Open, with the address in place of the file.
func Open(ctx context.Context, address string, o gpkg.Options) (*gpkg.File, error) {
	p, err := parse(address)
	if err != nil {
		return nil, err
	}
	s := &session{place: p, o: o}
	path, err := s.prepare(ctx)
	if err != nil {
		s.Close()
		return nil, err
	}
	c, err := s.openCopy(ctx, path)
	if err != nil {
		return nil, err
	}
	if !o.ReadOnly {
		return c, nil
	}
	if err := c.Close(); err != nil {
		return nil, err
	}
	o.Name, o.Shared, o.Create = p.name, nil, false
	return gpkg.Open(ctx, path, o)
}

// prepare finds the catalogue, makes or migrates it where that was asked for, and returns the path of
// its local copy.
func (s *session) prepare(ctx context.Context) (path string, err error) {
	conn, err := s.connect(ctx)
	if err != nil {
		return "", err
	}
	s.conn = conn
	isThere, err := s.find(ctx, conn)
	if err == nil && !isThere {
		if !s.o.Create || s.o.ReadOnly {
			return "", s.notFound()
		}
		err = s.create(ctx, conn, s.o.Tool, func(tx pgx.Tx) error { return s.firstRows(ctx, tx, s.o.Tool) })
		if isThere, e := s.find(ctx, conn); err != nil && e == nil && isThere { // another program was faster
			err = nil
		}
	}
	if err != nil {
		return "", err
	}
	now, err := s.read(ctx, conn)
	if err == nil && now.version < gpkg.TablesVersion {
		if s.o.ReadOnly {
			return "", s.older(now.version)
		}
		err = s.migrate(ctx, conn)
	}
	if err != nil {
		return "", err
	}
	return copyPath(now.id)
}

// copyName is the name of a local copy, by version of its tables.
const copyName = "tables-%d.gpkg"

// copyPath is the path of the local copy of a database, in a folder that only this user may enter.
func copyPath(id string) (string, error) {
	base, err := cacheFolder()
	if err != nil {
		return "", err
	}
	dir := filepath.Join(base, "shared", id)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", &Fault{Kind: errWrite, File: dir, What: "no folder for the local copy of the database", Err: err, Fix: "set XDG_CACHE_HOME to a folder of your own"}
	}
	for v := 1; v < gpkg.TablesVersion; v++ { // a copy of the older tables is of no more use
		_ = os.Remove(filepath.Join(dir, fmt.Sprintf(copyName, v)))
	}
	return filepath.Join(dir, fmt.Sprintf(copyName, gpkg.TablesVersion)), nil
}

// openCopy opens the local copy for writing and brings it up to date. A copy that is damaged, or of
// another state of the database, is made anew; what it had is in the database.
func (s *session) openCopy(ctx context.Context, path string) (*gpkg.File, error) {
	for try := 0; ; try++ {
		c, err := s.openOnce(ctx, path)
		if err == nil || try > 0 {
			return c, err
		}
		if !errors.Is(err, errForeignCopy) && !errors.Is(err, catalog.ErrNotOurs) && !errors.Is(err, terrain.ErrRead) && !errors.Is(err, catalog.ErrNewer) {
			return nil, err
		}
		if !isLocal(err, path) && !errors.Is(err, errForeignCopy) {
			return nil, err
		}
		for _, end := range []string{"", "-journal", "-wal", "-shm"} {
			if e := os.Remove(path + end); e != nil && !errors.Is(e, fs.ErrNotExist) {
				return nil, &Fault{Kind: errWrite, File: path, What: "a damaged local copy of the database cannot be removed", Err: errors.Join(e, err), Fix: "remove the file"}
			}
		}
	}
}

// isLocal reports whether a fault is of the local copy, not of the database.
func isLocal(err error, path string) bool {
	var f *Fault
	return errors.As(err, &f) && filepath.Base(f.File) == filepath.Base(path)
}

func (s *session) openOnce(ctx context.Context, path string) (*gpkg.File, error) {
	_, missing := os.Stat(path)
	o := s.o
	o.ReadOnly, o.Create, o.Name, o.Shared = false, true, s.name, s
	c, err := gpkg.Open(ctx, path, o)
	if err != nil {
		return nil, err
	}
	if missing != nil {
		err = os.Chmod(path, 0o600)
		if err == nil {
			err = c.ChangeCopy(ctx, c.MakeCopyTable)
		}
	}
	if err == nil {
		err = s.refresh(ctx, c)
	}
	if isLocal(err, path) && missing == nil { // a copy that was interrupted while it was made
		if err = c.ChangeCopy(ctx, c.MakeCopyTable); err == nil {
			err = s.refresh(ctx, c)
		}
	}
	if err != nil {
		return nil, errors.Join(err, c.Close())
	}
	return c, nil
}

// older is the fault of a catalogue that its owner must bring up to date first.
func (p *place) older(version int) error {
	return &Fault{Kind: catalog.ErrNotOurs, File: p.name, What: fmt.Sprintf("has tables of version %d, this program needs %d", version, gpkg.TablesVersion),
		Fix: "let its owner run gradeline doctor --repair with this version of the program, or use the older program; nothing was changed"}
}
