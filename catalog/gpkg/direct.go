package gpkg

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// Args are the values of one statement in the driver's types: nil, int64,
// float64, bool, string or []byte.
type Args []driver.NamedValue

// Add appends values.
func (v Args) Add(values ...driver.Value) Args {
	for _, x := range values {
		v = append(v, driver.NamedValue{Ordinal: len(v) + 1, Value: x})
	}
	return v
}

// Args returns an empty list in reused memory.
func (d *Direct) Args() Args { return d.args[:0] }

// Direct uses the driver directly. The driver passes all values of a statement, and all of a row,
// in one call into C; through database/sql each value costs its own call or conversion. Not for
// concurrent use.
type Direct struct {
	conn  *sql.Conn
	stmts map[string]driver.StmtQueryContext
	args  Args            // kept between statements
	ctx   context.Context // its end interrupts a statement
	row   []driver.Value
}

func newDirect(conn *sql.Conn) *Direct {
	return &Direct{conn: conn, ctx: context.Background(), stmts: map[string]driver.StmtQueryContext{}}
}

// Run runs one statement without a result.
func (d *Direct) Run(query string, v Args) error { return d.Each(query, v, nil) }

// Each runs one statement and calls f for every row; f may keep the values but
// not the slice, and must not use the connection.
func (d *Direct) Each(query string, v Args, f func(row []driver.Value) error) error {
	d.args = v
	return d.conn.Raw(func(conn any) error {
		st := d.stmts[query]
		if st == nil {
			s, err := conn.(driver.ConnPrepareContext).PrepareContext(context.Background(), query)
			if err != nil {
				return err
			}
			st = s.(driver.StmtQueryContext)
			d.stmts[query] = st
		}
		rows, err := st.QueryContext(d.ctx, v)
		if err != nil {
			return err
		}
		if f != nil {
			err = d.scan(rows, f)
		}
		if e := rows.Close(); err == nil {
			err = e
		}
		return err
	})
}

func (d *Direct) scan(rows driver.Rows, f func(row []driver.Value) error) error {
	n := len(rows.Columns())
	if cap(d.row) < n {
		d.row = make([]driver.Value, n)
	}
	row := d.row[:n]
	for {
		switch err := rows.Next(row); {
		case err == io.EOF:
			return nil
		case err != nil:
			return err
		}
		if err := f(row); err != nil {
			return err
		}
	}
}

// Any reports whether a query gives a row.
func (d *Direct) Any(query string, v Args) (found bool, err error) {
	err = d.Each(query, v, func([]driver.Value) error { found = true; return nil })
	return found, err
}

func (d *Direct) close() error {
	var errs []error
	for _, s := range d.stmts {
		errs = append(errs, s.(driver.Stmt).Close())
	}
	return errors.Join(errs...)
}

// InsertIndexed inserts a feature of a layer and its row of the R-tree; inside a change. The
// standard's trigger passes the complete geometry to Go five times to get its extent, which is
// known here. While the statement is prepared its condition is read as NULL, so that the trigger
// does not run. If it runs anyway, the second row replaces the first.
func (c *File) InsertIndexed(layer, insert string, v Args, fid int64, b Envelope) error {
	c.indexed = true
	err := c.d.Run(insert, v)
	c.indexed = false
	if err != nil {
		return err
	}
	return c.d.Run("INSERT OR REPLACE INTO rtree_"+layer+"_geom VALUES (?, ?, ?, ?, ?)", c.d.Args().Add(fid, b.MinX, b.MaxX, b.MinY, b.MaxY))
}

// adoptWriter uses conn as the writer.
func (c *File) adoptWriter(conn *sql.Conn) error {
	c.indexes = indexCheck{at: -1}
	c.w, c.stmts, c.d = conn, map[string]*sql.Stmt{}, newDirect(conn)
	return conn.Raw(func(conn any) error {
		conn.(*sqlite3.SQLiteConn).RegisterAuthorizer(c.authorizeWriter)
		if c.opt.Shared != nil {
			conn.(*sqlite3.SQLiteConn).RegisterUpdateHook(func(op int, _, table string, fid int64) {
				if c.changed != nil {
					c.changed.note(op, table, fid)
				}
			})
		}
		return nil
	})
}

// closeWriter closes the writer; SQLite rolls back what it had not committed.
func (c *File) closeWriter() error {
	var errs []error
	for _, s := range c.stmts {
		errs = append(errs, s.Close())
	}
	errs = append(errs, c.d.close(), c.w.Close())
	c.w, c.stmts, c.d = nil, nil, nil
	return errors.Join(errs...)
}
