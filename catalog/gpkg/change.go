package gpkg

import (
	"context"
	"database/sql"
	"errors"
)

// Change runs f in one write transaction; an error rolls it back.
func (c *File) Change(ctx context.Context, f func() error) error {
	if err := c.Begin(ctx); err != nil {
		return err
	}
	if err := f(); err != nil {
		c.Rollback()
		return c.Fault(err, "writing")
	}
	return c.Commit(ctx)
}

// Begin opens a write transaction, to be ended by Commit or Rollback. Until then
// other changes through this File wait, and other programs' changes do too.
func (c *File) Begin(ctx context.Context) error {
	c.mu.Lock()
	err := c.beginFile(ctx)
	if err == nil {
		if err = c.lockShared(ctx); err != nil {
			c.rollback()
		}
	}
	if err != nil {
		c.mu.Unlock()
	}
	return err
}

// beginFile acquires the write lock of the file; c.mu must be held.
func (c *File) beginFile(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if c.wdb == nil {
		return &Fault{Kind: ErrWrite, File: c.path, What: "opened for reading only", Fix: "open it for writing"}
	}
	if c.w == nil {
		conn, err := c.wdb.Conn(ctx)
		if err != nil {
			return c.Fault(err, "opening")
		}
		if err := c.adoptWriter(conn); err != nil {
			return c.Fault(err, "opening")
		}
	}
	err := c.patiently(false, true, func() error { return c.untilFree(ctx, "BEGIN IMMEDIATE") })
	if err != nil {
		return c.Fault(err, "writing")
	}
	err = c.checkSchema(ctx, c.w.QueryContext, "main")
	if err == nil && !c.repairs && c.indexes.at < 0 { // once for each opening: damage was there before
		err = c.Fault(CheckIndexes(c, ""), "reading")
	}
	if err != nil {
		c.rollback()
		return nameFile(err, c.path)
	}
	return nil
}

// nameFile adds the file to a fault without one.
func nameFile(err error, path string) error {
	var f *Fault
	if errors.As(err, &f) && f.File == "" {
		f.File = path
	}
	return err
}

// changeSchema is Change for statements that create or repair definitions.
func (c *File) changeSchema(ctx context.Context, f func() error) error {
	return c.Change(ctx, func() error { return c.defineSchema(f) })
}

// Commit ends the transaction of Begin. It rolls back where it may not commit, or where ctx ends
// while it waits for readers.
func (c *File) Commit(ctx context.Context) error {
	defer c.mu.Unlock()
	if err := c.storeInShared(ctx); err != nil {
		c.rollback()
		return c.Fault(err, "committing")
	}
	if c.opt.Shared != nil {
		ctx = context.WithoutCancel(ctx) // the database has the change already
	}
	err := c.patiently(true, false, func() error { return c.untilFree(ctx, "COMMIT") })
	if err != nil {
		c.rollback()
		return c.Fault(err, "committing")
	}
	return nil
}

// Rollback ends the transaction of Begin and leaves the file unchanged.
func (c *File) Rollback() {
	defer c.mu.Unlock()
	c.rollback()
}

func (c *File) rollback() {
	if c.changed = nil; c.opt.Shared != nil {
		c.opt.Shared.Unlock()
	}
	// A failed rollback leaves the connection unusable; SQLite rolls back when it closes.
	if _, err := c.w.ExecContext(context.Background(), "ROLLBACK"); err != nil && !isNoTransaction(err) {
		_ = c.closeWriter()
	}
}

// Exec runs one prepared statement of the writer; inside a change.
func (c *File) Exec(query string, args ...any) (sql.Result, error) {
	s, err := c.prepared(query)
	if err != nil {
		return nil, err
	}
	return s.Exec(args...)
}

func (c *File) prepared(query string) (*sql.Stmt, error) {
	if s := c.stmts[query]; s != nil {
		return s, nil
	}
	s, err := c.w.PrepareContext(context.Background(), query)
	if err == nil {
		c.stmts[query] = s
	}
	return s, err
}

// Querier runs queries: the writer inside its change, or a read transaction.
type Querier interface {
	Query(query string, args ...any) (*sql.Rows, error)
	Direct() *Direct
	HasSeals() bool      // see File.HasSeals
	HasPacked() bool     // see File.HasPacked
	HasSteepParts() bool // see File.HasSteepParts
	HasRowSums() bool    // see File.HasRowSums
	HasDrives() bool     // see File.HasDrives
}

// Direct returns the writer's direct access to the driver; inside a change.
func (c *File) Direct() *Direct { return c.d }

// Query reads through the writer; inside a change.
func (c *File) Query(query string, args ...any) (*sql.Rows, error) {
	s, err := c.prepared(query)
	if err != nil {
		return nil, err
	}
	return s.Query(args...)
}

// Each calls f for every row; f scans it.
func Each(q Querier, f func(rows *sql.Rows) error, query string, args ...any) error {
	rows, err := q.Query(query, args...)
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

// First scans the first row into dest and reports whether there was one.
func First(q Querier, dest []any, query string, args ...any) (bool, error) {
	found := false
	err := Each(q, func(rows *sql.Rows) error {
		if found {
			return nil
		}
		found = true
		return rows.Scan(dest...)
	}, query, args...)
	return found, err
}

// Keys appends the first column of every row, an integer, to out.
func Keys(q Querier, out *[]int64, query string, args ...any) error {
	return Each(q, func(rows *sql.Rows) error {
		var fid int64
		if err := rows.Scan(&fid); err != nil {
			return err
		}
		*out = append(*out, fid)
		return nil
	}, query, args...)
}
