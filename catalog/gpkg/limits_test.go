package gpkg

import (
	"database/sql"
	"fmt"
	"strings"
	"testing"

	sqlite3 "github.com/mattn/go-sqlite3"
)

// withoutAuthorizer is a connection as the program opens it, but for its authorizer.
func withoutAuthorizer(t *testing.T, path, mode string) *sql.Conn {
	t.Helper()
	registerDrivers()
	db, err := (&File{path: path}).pool(path, mode)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	conn, err := db.Conn(ctx)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	err = conn.Raw(func(raw any) error {
		raw.(*sqlite3.SQLiteConn).RegisterAuthorizer(nil)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return conn
}

// Each limit at work, on connections for reading and for writing; a plain connection
// runs the same statements.
func TestLimits(t *testing.T) {
	path := withRows(t)
	plain, err := sql.Open("sqlite3", path)
	if err != nil {
		t.Fatal(err)
	}
	defer plain.Close()
	long := strings.Repeat("0", 60_000)
	for _, tc := range []struct{ name, query, says string }{
		{"length", fmt.Sprintf("SELECT length(zeroblob(%d))", maxValueBytes+1), "too big"},
		{"SQL length", "SELECT '" + long + long + "'", "too long"},
		{"column", "SELECT 1" + strings.Repeat(", 1", 200), "too many columns"},
		{"expression depth", "SELECT " + strings.Repeat("(1+", 99) + "1" + strings.Repeat(")", 99), "Expression tree is too large"},
		{"compound", strings.Repeat("SELECT 1 UNION ALL ", 9) + "SELECT 1", "too many terms"},
		{"operations", "VALUES " + strings.Repeat("(0,0,0,0),", 9_900) + "(0,0,0,0)", "out of memory"},
		{"function arguments", "SELECT coalesce(1, 2, 3, 4, 5, 6, 7, 8, 9)", "too many arguments"},
		{"variables", "SELECT ?401", "variable number"},
		{"like", "SELECT 'a' LIKE '" + strings.Repeat("%a", 200) + "'", "too complex"},
	} {
		if _, err := plain.Exec(tc.query); err != nil && tc.name != "variables" { // one value is asked for
			t.Errorf("%s: a plain connection stops it: %v", tc.name, err)
		}
		for _, mode := range []string{"ro", "rw"} {
			if _, err := withoutAuthorizer(t, path, mode).ExecContext(ctx, tc.query); err == nil || !strings.Contains(err.Error(), tc.says) {
				t.Errorf("%s, %s: %v", tc.name, mode, err)
			}
		}
	}
}

// Triggers that set off triggers, and files attached: as far as the program itself goes.
// Reading takes no helper threads.
func TestLimitsOfDepth(t *testing.T) {
	path := withRows(t)
	w := withoutAuthorizer(t, path, "rw")
	script := "CREATE TABLE a(x); CREATE TABLE b(x); CREATE TABLE c(x); CREATE TABLE d(x); " +
		"CREATE TRIGGER ta AFTER INSERT ON a BEGIN INSERT INTO b VALUES(1); END; " +
		"CREATE TRIGGER tb AFTER INSERT ON b BEGIN INSERT INTO c VALUES(1); END; " +
		"CREATE TRIGGER tc AFTER INSERT ON c BEGIN INSERT INTO d VALUES(1); END"
	if _, err := w.ExecContext(ctx, script); err != nil {
		t.Fatal(err)
	}
	if _, err := w.ExecContext(ctx, "INSERT INTO b VALUES(1)"); err != nil {
		t.Errorf("two levels: %v", err)
	}
	if _, err := w.ExecContext(ctx, "INSERT INTO a VALUES(1)"); err == nil || !strings.Contains(err.Error(), "nested too deep") {
		t.Errorf("three levels: %v", err)
	}
	if _, err := w.ExecContext(ctx, "ATTACH ':memory:' AS one"); err != nil {
		t.Errorf("one file more: %v", err)
	}
	if _, err := w.ExecContext(ctx, "ATTACH ':memory:' AS two"); err == nil || !strings.Contains(err.Error(), "too many attached databases") {
		t.Errorf("two files more: %v", err)
	}
	r := withoutAuthorizer(t, path, "ro")
	if _, err := r.ExecContext(ctx, "ATTACH ':memory:' AS one"); err == nil || !strings.Contains(err.Error(), "too many attached databases") {
		t.Errorf("a reader, one file more: %v", err)
	}
	for mode, conn := range map[string]*sql.Conn{"ro": r, "rw": w} {
		var threads, cells int
		err := conn.Raw(func(raw any) error {
			threads = raw.(*sqlite3.SQLiteConn).GetLimit(sqlite3.SQLITE_LIMIT_WORKER_THREADS)
			return nil
		})
		if err != nil || threads != 0 {
			t.Errorf("%s: %d helper threads, %v", mode, threads, err)
		}
		if err := conn.QueryRowContext(ctx, "PRAGMA cell_size_check").Scan(&cells); err != nil || cells != 1 {
			t.Errorf("%s: cell_size_check is %d, %v", mode, cells, err)
		}
	}
}
