package gpkg

import (
	"context"
	"database/sql"
	"slices"
	"strings"
	"sync"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// SQLite's own defences against a malicious file (sqlite.org/security.html).
// Connections for reading may not write (query_only) nor call functions from the schema
// (trusted_schema off), and an authorizer permits only what reading needs. The
// writer needs functions in the standard's R-tree triggers, so its schema stays trusted
// and is compared inside its transaction instead. The driver does not say from which
// trigger an authorizer is asked, and has no SQLITE_DBCONFIG_DEFENSIVE and no progress
// handler: queries end by their context.

const (
	readDriver  = "gradeline-catalogue-read"
	writeDriver = "gradeline-catalogue-write"
)

var registerDrivers = sync.OnceFunc(func() {
	sql.Register(readDriver, &sqlite3.SQLiteDriver{ConnectHook: hardenReader})
	sql.Register(writeDriver, &sqlite3.SQLiteDriver{ConnectHook: hardenWriter})
})

// limits are far above the needs of our statements, and far below SQLite's own limits.
var limits = map[int]int{
	sqlite3.SQLITE_LIMIT_LENGTH:              maxValueBytes,
	sqlite3.SQLITE_LIMIT_SQL_LENGTH:          100_000,
	sqlite3.SQLITE_LIMIT_COLUMN:              200,
	sqlite3.SQLITE_LIMIT_EXPR_DEPTH:          60,
	sqlite3.SQLITE_LIMIT_COMPOUND_SELECT:     5,
	sqlite3.SQLITE_LIMIT_VDBE_OP:             50_000,
	sqlite3.SQLITE_LIMIT_FUNCTION_ARG:        8,
	sqlite3.SQLITE_LIMIT_LIKE_PATTERN_LENGTH: 200,
	sqlite3.SQLITE_LIMIT_VARIABLE_NUMBER:     400,
	sqlite3.SQLITE_LIMIT_TRIGGER_DEPTH:       2,
	sqlite3.SQLITE_LIMIT_WORKER_THREADS:      0,
}

func setLimits(conn *sqlite3.SQLiteConn, attached int) {
	for id, n := range limits {
		conn.SetLimit(id, n)
	}
	conn.SetLimit(sqlite3.SQLITE_LIMIT_ATTACHED, attached)
}

func hardenReader(conn *sqlite3.SQLiteConn) error {
	if err := registerFunctions(conn); err != nil {
		return err
	}
	setLimits(conn, 0)
	if _, err := conn.Exec("PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA query_only = ON", nil); err != nil {
		return err
	}
	conn.RegisterAuthorizer(authorizeReader)
	return nil
}

func hardenWriter(conn *sqlite3.SQLiteConn) error {
	if err := registerFunctions(conn); err != nil {
		return err
	}
	setLimits(conn, 1) // for copying a part
	_, err := conn.Exec("PRAGMA cell_size_check = ON", nil)
	return err
}

// The actions of a statement that reads (sqlite.org/c3ref/c_alter_table.html).
var (
	readerPragmas   = []string{"busy_timeout", "cache_size", "application_id", "page_count", "page_size", "data_version", "schema_version", "integrity_check", "quick_check", "foreign_key_check", "table_info", "table_xinfo", "foreign_keys"}
	readerFunctions = []string{"count", "coalesce", "min", "max", "sum", "length", "substr", "json_each", "json_extract", "st_isempty", "st_minx", "st_maxx", "st_miny", "st_maxy", "like", "glob",
		"strftime"} // a default of the standard's tables, which integrity_check compiles
)

const opRecursive = 33 // SQLITE_RECURSIVE, which the driver does not name

func authorizeReader(op int, a, b, _ string) int {
	switch op {
	case sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_TRANSACTION:
		return sqlite3.SQLITE_OK
	case sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE:
		// An R-tree prepares the statements that write its nodes; query_only stops them from running.
		if strings.HasPrefix(strings.ToLower(a), "rtree_") {
			return sqlite3.SQLITE_OK
		}
	case sqlite3.SQLITE_PRAGMA:
		if slices.Contains(readerPragmas, strings.ToLower(a)) {
			return sqlite3.SQLITE_OK
		}
	case sqlite3.SQLITE_FUNCTION:
		if slices.Contains(readerFunctions, strings.ToLower(b)) {
			return sqlite3.SQLITE_OK
		}
	}
	return sqlite3.SQLITE_DENY
}

// authorizeWriter lets rows change, and definitions only while the program itself
// makes, migrates or repairs the file. While a feature is inserted with its row of the
// R-tree, the trigger's condition is read as NULL, see InsertIndexed: a function that
// is answered with IGNORE is compiled so (sqlite.org/c3ref/set_authorizer.html; asked
// when a statement is prepared).
func (c *File) authorizeWriter(op int, a, b, _ string) int {
	switch op {
	case sqlite3.SQLITE_FUNCTION:
		if c.indexed && strings.EqualFold(b, "ST_IsEmpty") {
			return sqlite3.SQLITE_IGNORE
		}
		if strings.EqualFold(b, "load_extension") {
			return sqlite3.SQLITE_DENY
		}
	case sqlite3.SQLITE_SELECT, sqlite3.SQLITE_READ, sqlite3.SQLITE_TRANSACTION, sqlite3.SQLITE_SAVEPOINT,
		sqlite3.SQLITE_INSERT, sqlite3.SQLITE_UPDATE, sqlite3.SQLITE_DELETE:
		if !c.definesSchema && op != sqlite3.SQLITE_SELECT && op != sqlite3.SQLITE_READ && strings.EqualFold(a, "sqlite_master") {
			return sqlite3.SQLITE_DENY
		}
		if op == sqlite3.SQLITE_DELETE && c.opt.Shared != nil && !c.definesSchema {
			return sqlite3.SQLITE_IGNORE // rows are deleted one by one, so that each is noted (sqlite.org/c3ref/c_deny.html)
		}
	case sqlite3.SQLITE_PRAGMA:
		if !c.definesSchema && strings.EqualFold(a, "writable_schema") {
			return sqlite3.SQLITE_DENY
		}
	case opRecursive:
		return sqlite3.SQLITE_DENY
	case sqlite3.SQLITE_CREATE_TEMP_TABLE: // the selection for a part
	default:
		if !c.definesSchema {
			return sqlite3.SQLITE_DENY
		}
	}
	return sqlite3.SQLITE_OK
}

// defineSchema runs f with the writer allowed to change definitions.
func (c *File) defineSchema(f func() error) error {
	c.definesSchema = true
	defer func() { c.definesSchema = false }()
	return f()
}

// checkSchema refuses a file that holds more than data. A schema that was found good
// before is only compared.
func (c *File) checkSchema(ctx context.Context, query func(ctx context.Context, query string, args ...any) (*sql.Rows, error), schema string) error {
	rows, err := readSchema(ctx, query, schema)
	if err != nil {
		return c.Fault(err, "reading its schema")
	}
	c.schemaMu.Lock()
	defer c.schemaMu.Unlock()
	if c.goodSchema != nil && slices.Equal(rows, c.goodSchema) {
		return nil
	}
	faults := schemaFaults(rows)
	c.refused = faults
	if len(faults) > 0 && !c.anySchema {
		return refusedSchema(c.path, faults)
	}
	c.goodSchema = rows
	return nil
}

func readSchema(ctx context.Context, query func(ctx context.Context, query string, args ...any) (*sql.Rows, error), schema string) ([]schemaRow, error) {
	rows, err := query(ctx, "SELECT type, name, tbl_name, coalesce(sql, '') FROM "+schema+".sqlite_master")
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []schemaRow
	for rows.Next() {
		var r schemaRow
		if err := rows.Scan(&r.kind, &r.name, &r.table, &r.sql); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, rows.Err()
}
