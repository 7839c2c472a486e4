package gpkg

import (
	"context"
	"database/sql"
	"database/sql/driver"
)

// reader is one connection for reading with its prepared statements.
type reader struct {
	conn  *sql.Conn
	stmts map[string]*sql.Stmt
	d     *Direct // on conn
	file  *File
	ctx   context.Context // of the running Read; its end interrupts a query
	// schemaVersion is SQLite's counter of schema changes at the last successful check; -1 before.
	schemaVersion int64
	dataVersion   int64 // SQLite's counter of changes by other connections, in the running Read
	indexes       indexCheck
	kept          Kept
}

const (
	mostReaders = 8
	mostStmts   = 64 // kept prepared; filters could make any number of them
)

func (r *reader) Query(query string, args ...any) (*sql.Rows, error) {
	s := r.stmts[query]
	if s == nil {
		var err error
		if s, err = r.conn.PrepareContext(context.Background(), query); err != nil {
			return nil, err
		}
		r.stmts[query] = s
	}
	return s.QueryContext(r.ctx, args...)
}

func (r *reader) HasSeals() bool { return r.file.HasSeals() }

func (r *reader) HasSteepParts() bool { return r.file.HasSteepParts() }

func (r *reader) HasRowSums() bool { return r.file.HasRowSums() }

func (r *reader) HasDrives() bool { return r.file.HasDrives() }

func (r *reader) HasPacked() bool { return r.file.HasPacked() }

func (r *reader) Direct() *Direct { return r.d }

func (r *reader) close() {
	for _, s := range r.stmts {
		s.Close()
	}
	_ = r.d.close() // the connection is closed with it
	r.kept.clear()
	r.conn.Close()
}

// Read runs f on one consistent state of the file.
func (c *File) Read(ctx context.Context, f func(q Querier) error) error {
	select {
	case c.turns <- struct{}{}:
		defer func() { <-c.turns }()
	case <-ctx.Done():
		return ctx.Err()
	}
	r, err := c.reader(ctx)
	if err != nil {
		return c.Fault(err, "reading")
	}
	r.ctx, r.d.ctx = ctx, ctx
	if err = r.d.Run("BEGIN", r.d.Args()); err != nil {
		r.close()
		return c.Fault(err, "reading")
	}
	if err = c.CheckUnchanged(); err == nil {
		err = r.checkSchema(ctx, c)
	}
	if err == nil {
		r.dataVersion, err = dataVersion(r.d)
	}
	if err == nil {
		r.kept.isOf(r.dataVersion)
		err = f(r)
	}
	if err == nil {
		err = c.CheckUnchanged()
	}
	r.d.ctx = context.Background()
	if e := r.d.Run("ROLLBACK", r.d.Args()); e != nil || len(r.stmts)+len(r.d.stmts) > mostStmts {
		r.close()
	} else {
		c.idleMu.Lock()
		c.idle = append(c.idle, r)
		c.idleMu.Unlock()
	}
	if err != nil && ctx.Err() != nil {
		return ctx.Err()
	}
	return c.Fault(err, "reading")
}

func (c *File) reader(ctx context.Context) (*reader, error) {
	c.idleMu.Lock()
	if n := len(c.idle); n > 0 {
		r := c.idle[n-1]
		c.idle = c.idle[:n-1]
		c.idleMu.Unlock()
		return r, nil
	}
	c.idleMu.Unlock()
	conn, err := c.rdb.Conn(ctx)
	if err != nil {
		return nil, err
	}
	if _, err := conn.ExecContext(ctx, "PRAGMA cache_size = -16384"); err != nil {
		conn.Close()
		return nil, err
	}
	return &reader{conn: conn, file: c, stmts: map[string]*sql.Stmt{}, d: newDirect(conn), schemaVersion: -1, indexes: indexCheck{at: -1}, kept: Kept{file: c}}, nil
}

// checkSchema refuses a file that holds more than data, if its schema changed since this connection
// last checked.
func (r *reader) checkSchema(ctx context.Context, c *File) error {
	version := int64(-1)
	err := r.d.Each("PRAGMA schema_version", r.d.Args(), func(row []driver.Value) error {
		version, _ = row[0].(int64)
		return nil
	})
	if err != nil || version == r.schemaVersion {
		return err
	}
	if err := c.checkSchema(ctx, r.conn.QueryContext, "main"); err != nil {
		return err
	}
	r.schemaVersion = version
	return nil
}
