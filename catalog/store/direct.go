package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"io"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// vals are the values of one statement as the driver takes them: nil, int64,
// float64, bool, string or []byte.
type vals []driver.NamedValue

func (v vals) add(values ...driver.Value) vals {
	for _, x := range values {
		v = append(v, driver.NamedValue{Ordinal: len(v) + 1, Value: x})
	}
	return v
}

// start gives empty values in memory that is used again and again.
func (d *direct) start() vals { return d.vals[:0] }

// direct speaks to the driver itself, which hands all values of a statement, and
// all of a row, over in one crossing into C: through database/sql each value
// costs a crossing or a conversion of its own. Not for concurrent use.
type direct struct {
	conn  *sql.Conn
	stmts map[string]driver.StmtQueryContext
	vals  vals // kept between statements
	row   []driver.Value
}

func newDirect(conn *sql.Conn) *direct {
	return &direct{conn: conn, stmts: map[string]driver.StmtQueryContext{}}
}

// put runs one statement that gives nothing back.
func (d *direct) put(query string, v vals) error { return d.each(query, v, nil) }

// each runs one statement and calls f for every row; f may keep the values but
// not the slice, and must not use the connection.
func (d *direct) each(query string, v vals, f func(row []driver.Value) error) error {
	d.vals = v
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
		rows, err := st.QueryContext(context.Background(), v)
		if err != nil {
			return err
		}
		if f != nil {
			err = d.take(rows, f)
		}
		if e := rows.Close(); err == nil {
			err = e
		}
		return err
	})
}

func (d *direct) take(rows driver.Rows, f func(row []driver.Value) error) error {
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

// any reports whether a query gives a row.
func (d *direct) any(query string, v vals) (found bool, err error) {
	err = d.each(query, v, func([]driver.Value) error { found = true; return nil })
	return found, err
}

func (d *direct) close() error {
	var errs []error
	for _, s := range d.stmts {
		errs = append(errs, s.(driver.Stmt).Close())
	}
	return errors.Join(errs...)
}

// putIndexed inserts a descent and its row of the R-tree. The standard's trigger
// hands the whole geometry to Go five times to learn its extent, which is known
// here: while the statement is prepared its condition is read as NULL, so that the
// trigger stays out. Should it fire all the same, the second row replaces the first.
func (c *Catalog) putIndexed(v vals, fid int64, b box) error {
	c.indexed = true
	err := c.d.put(insertDescent, v)
	c.indexed = false
	if err != nil {
		return err
	}
	return c.d.put("INSERT OR REPLACE INTO rtree_descents_geom VALUES (?, ?, ?, ?, ?)", c.d.start().add(fid, b.minX, b.maxX, b.minY, b.maxY))
}

// take makes conn the writer.
func (c *Catalog) take(conn *sql.Conn) error {
	c.w, c.stmts, c.d = conn, map[string]*sql.Stmt{}, newDirect(conn)
	// What an authorizer answers with IGNORE for a function is compiled as NULL
	// (sqlite.org/c3ref/set_authorizer.html; asked when a statement is prepared).
	return conn.Raw(func(conn any) error {
		conn.(*sqlite3.SQLiteConn).RegisterAuthorizer(func(op int, _, name, _ string) int {
			if op == sqlite3.SQLITE_FUNCTION && c.indexed && strings.EqualFold(name, "ST_IsEmpty") {
				return sqlite3.SQLITE_IGNORE
			}
			return sqlite3.SQLITE_OK
		})
		return nil
	})
}

// leave closes the writer; SQLite rolls back what it had not committed.
func (c *Catalog) leave() error {
	var errs []error
	for _, s := range c.stmts {
		errs = append(errs, s.Close())
	}
	errs = append(errs, c.d.close(), c.w.Close())
	c.w, c.stmts, c.d = nil, nil, nil
	return errors.Join(errs...)
}
