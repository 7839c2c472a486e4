package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
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
func (c *Catalog) start() vals { return c.vals[:0] }

// put runs one statement of the writer that gives nothing back. It goes to the
// driver itself, by the way that hands all values over in one crossing into C:
// through database/sql each value costs a crossing of its own.
func (c *Catalog) put(query string, v vals) error {
	c.vals = v
	return c.w.Raw(func(conn any) error {
		st := c.puts[query]
		if st == nil {
			s, err := conn.(driver.ConnPrepareContext).PrepareContext(context.Background(), query)
			if err != nil {
				return err
			}
			st = s.(driver.StmtQueryContext)
			c.puts[query] = st
		}
		rows, err := st.QueryContext(context.Background(), v)
		if err != nil {
			return err
		}
		return rows.Close()
	})
}

// putIndexed inserts a descent and its row of the R-tree. The standard's trigger
// hands the whole geometry to Go five times to learn its extent, which is known
// here: while the statement is prepared its condition is read as NULL, so that the
// trigger stays out. Should it fire all the same, the second row replaces the first.
func (c *Catalog) putIndexed(v vals, fid int64, b box) error {
	c.indexed = true
	err := c.put(insertDescent, v)
	c.indexed = false
	if err != nil {
		return err
	}
	return c.put("INSERT OR REPLACE INTO rtree_descents_geom VALUES (?, ?, ?, ?, ?)", c.start().add(fid, b.minX, b.maxX, b.minY, b.maxY))
}

// take makes conn the writer.
func (c *Catalog) take(conn *sql.Conn) error {
	c.w, c.stmts, c.puts = conn, map[string]*sql.Stmt{}, map[string]driver.StmtQueryContext{}
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
	for _, s := range c.puts {
		errs = append(errs, s.(driver.Stmt).Close())
	}
	errs = append(errs, c.w.Close())
	c.w, c.stmts, c.puts = nil, nil, nil
	return errors.Join(errs...)
}
