package specimen

import (
	"database/sql"
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// Of two surveys of the same roads these differ: when each was made, and the check sums of rows with
// such a time.
var (
	stamps = regexp.MustCompile(`20\d\d-\d\d-\d\d[T ]\d\d:\d\d:\d\d[.\d]*( UTC|Z)?`)
	sums   = regexp.MustCompile(`,-?\d{10,19}\b`)
)

// RowsOf is every row of a catalogue's file as text, table by table and in order, so that two surveys
// of the same roads can be compared byte for byte: TIME stands for each time, SUM for the check sum of
// a row with one. The caller links an SQLite driver named sqlite3.
func RowsOf(path string) (string, error) {
	db, err := sql.Open("sqlite3", "file:"+path+"?mode=ro&immutable=1")
	if err != nil {
		return "", err
	}
	defer db.Close() // only read
	tables, err := texts(db, "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
	if err != nil {
		return "", err
	}
	var b strings.Builder
	for _, table := range tables {
		columns, err := texts(db, "SELECT 'quote(' || '\"' || name || '\"' || ')' FROM pragma_table_info('"+table+"')")
		if err != nil {
			return "", err
		}
		rows, err := texts(db, `SELECT `+strings.Join(columns, " || ',' || ")+` FROM "`+table+`"`)
		if err != nil {
			return "", err
		}
		for i, row := range rows {
			if stamps.MatchString(row) {
				rows[i] = sums.ReplaceAllString(WithoutTimes(row), ",SUM")
			}
		}
		slices.Sort(rows)
		fmt.Fprintf(&b, "%s\n%s\n", table, strings.Join(rows, "\n"))
	}
	return b.String(), nil
}

// WithoutTimes is a text with TIME for each time in it.
func WithoutTimes(text string) string { return stamps.ReplaceAllString(text, "TIME") }

// FirstDifference shows where two texts begin to differ; empty where they are the same.
func FirstDifference(got, want string) string {
	if got == want {
		return ""
	}
	at := 0
	for at < min(len(got), len(want)) && got[at] == want[at] {
		at++
	}
	return fmt.Sprintf("they differ at byte %d of %d and %d:\n%.300s\n%.300s", at, len(got), len(want), got[max(0, at-100):], want[max(0, at-100):])
}

func texts(db *sql.DB, query string) ([]string, error) {
	rows, err := db.Query(query)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", query, err)
	}
	defer rows.Close() // only read
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			return nil, fmt.Errorf("%s: %w", query, err)
		}
		out = append(out, s)
	}
	return out, rows.Err()
}
