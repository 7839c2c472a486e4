package gpkg

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// endless is a query that never ends by itself.
const endless = "SELECT count(*) FROM holds a, holds b, holds c, holds d, holds e, holds f, holds g, holds h, holds i, holds j, holds k, holds l, holds m, holds n, holds o, holds p, holds q, holds r, holds s, holds t, holds u, holds v, holds w, holds x"

// Each of SQLite's own defences at work on a connection for reading: what it stops
// works on a plain connection.
func TestReadersAreDefended(t *testing.T) {
	path := withRows(t)
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for name, tc := range map[string]struct{ query, says string }{
		"authorizer, write":      {"DELETE FROM holds", "not authorized"},
		"authorizer, attach":     {"ATTACH ':memory:' AS x", "not authorized"},
		"authorizer, definition": {"CREATE TEMP VIEW x AS SELECT 1", "not authorized"},
		"authorizer, pragma":     {"PRAGMA trusted_schema = ON", "not authorized"},
		"authorizer, unlock":     {"PRAGMA query_only = OFF", "not authorized"},
		"authorizer, function":   {"SELECT randomblob(9)", "not authorized to use function"},
		"authorizer, recursion":  {"WITH RECURSIVE r(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM r) SELECT max(x) FROM r", "not authorized"},
		"limit, depth":           {"SELECT " + strings.Repeat("(1+", 99) + "1" + strings.Repeat(")", 99), "Expression tree is too large"},
		"limit, length":          {"SELECT '" + strings.Repeat("x", 100_001) + "'", "too long"},
		"limit, compound":        {strings.Repeat("SELECT 1 UNION ALL ", 9) + "SELECT 1", "too many terms"},
		"limit, variables":       {"SELECT ?401", "variable number"},
		"limit, like":            {"SELECT 'a' LIKE '" + strings.Repeat("%a", 200) + "'", "too complex"},
	} {
		err := c.Read(ctx, func(q Querier) error {
			_, err := First(q, []any{new(any)}, tc.query)
			return err
		})
		if err == nil || !strings.Contains(errors.Join(err, unwrapAll(err)).Error(), tc.says) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if n := count(t, c, "SELECT count(*) FROM holds"); n != 2 {
		t.Errorf("%d holds", n)
	}
}

func unwrapAll(err error) error {
	var se sqlite3.Error
	errors.As(err, &se)
	return se
}

// query_only stops a write by itself, and functions in a schema that is not trusted do
// not run: without the authorizer, on a file with a view.
func TestReadersAreDefendedTwice(t *testing.T) {
	path := withRows(t)
	spoil(t, path, "CREATE VIEW v AS SELECT ST_MinX(geom) AS x FROM descents")
	conn := withoutAuthorizer(t, path, "ro")
	for query, says := range map[string]string{
		"CREATE TEMP TABLE x(a)": "readonly database", // mode=ro lets temporary tables be made, query_only does not
		"SELECT x FROM v":        "unsafe use of ST_MinX",
	} {
		if _, err := conn.ExecContext(ctx, query); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v", query, err)
		}
	}
}

// The writer changes rows, and definitions only while the program itself says so.
func TestTheWriterDefinesNothingByItself(t *testing.T) {
	c := open(t, withRows(t))
	for _, stmt := range []string{
		"CREATE TRIGGER x AFTER INSERT ON holds BEGIN DELETE FROM history; END", "CREATE VIEW x AS SELECT 1", "DROP TABLE history", "ALTER TABLE holds ADD COLUMN x",
		"CREATE TEMP TRIGGER x AFTER INSERT ON holds BEGIN DELETE FROM history; END", "ATTACH ':memory:' AS x", "PRAGMA writable_schema = ON", "REINDEX", "CREATE INDEX x ON holds(gear)",
		"SELECT load_extension('x')", "WITH RECURSIVE r(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM r) INSERT INTO history(at, what) SELECT x, '' FROM r",
	} {
		err := c.Change(ctx, func() error { _, err := c.Exec(stmt); return err })
		if err == nil || !strings.Contains(unwrapAll(err).Error(), "not authorized") {
			t.Errorf("%s: %v", stmt, err)
		}
	}
	err := c.changeSchema(ctx, func() error { _, err := c.Exec("CREATE INDEX x ON holds(gear)"); return err })
	if err != nil {
		t.Error(err)
	}
}

// A query that does not end is interrupted by its context.
func TestAnEndlessQueryEndsWithItsContext(t *testing.T) {
	path := withRows(t)
	spoil(t, path, "INSERT INTO holds(descent_fid, position, class, mass_kg, holds, gear, ratio, stage, speed_mps, engine_rpm, retarder_use_pct, heaviest_mass_kg, missing_power_w, friction_needed) SELECT DISTINCT 1, a.fid * 10 + b.fid, 'c' || a.fid || '-' || b.fid, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1 FROM holds a, holds b")
	c, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for name, read := range map[string]func(q Querier) error{
		"query":  func(q Querier) error { _, err := First(q, []any{new(int)}, endless); return err },
		"direct": func(q Querier) error { _, err := q.Direct().Any(endless, q.Direct().Args()); return err },
	} {
		stop, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
		done := make(chan error, 1)
		go func() { done <- c.Read(stop, read) }()
		select {
		case err := <-done:
			if !errors.Is(err, context.DeadlineExceeded) {
				t.Errorf("%s: %v", name, err)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%s: still runs", name)
		}
		cancel()
	}
	if err := c.Read(ctx, func(q Querier) error { _, err := First(q, []any{new(int)}, "SELECT count(*) FROM holds"); return err }); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// What the writer's authorizer refuses though SQLite would refuse it too, while neither
// writable_schema nor extensions are on: the second door stays shut by itself.
func TestTheWritersAuthorizerStandsAlone(t *testing.T) {
	c := &File{}
	for _, tc := range []struct {
		op      int
		a, b    string
		defined int // the answer while the program defines its schema
	}{
		{sqlite3.SQLITE_UPDATE, "sqlite_master", "sql", sqlite3.SQLITE_OK},
		{sqlite3.SQLITE_DELETE, "SQLITE_MASTER", "", sqlite3.SQLITE_OK},
		{sqlite3.SQLITE_FUNCTION, "", "load_extension", sqlite3.SQLITE_DENY},
		{opRecursive, "", "", sqlite3.SQLITE_DENY},
	} {
		if got := c.authorizeWriter(tc.op, tc.a, tc.b, "main"); got != sqlite3.SQLITE_DENY {
			t.Errorf("%+v: %d", tc, got)
		}
		if err := c.defineSchema(func() error {
			if got := c.authorizeWriter(tc.op, tc.a, tc.b, "main"); got != tc.defined {
				t.Errorf("defining, %+v: %d", tc, got)
			}
			return nil
		}); err != nil {
			t.Error(err)
		}
	}
	if got := c.authorizeWriter(sqlite3.SQLITE_UPDATE, "holds", "gear", "main"); got != sqlite3.SQLITE_OK {
		t.Errorf("a row: %d", got)
	}
}
