package survey

import (
	"bytes"
	"database/sql"
	"fmt"
	"os"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
)

// stamps are what differs between two surveys of the same roads: when each was made.
var stamps = regexp.MustCompile(`20\d\d-\d\d-\d\d[T ]\d\d:\d\d:\d\d[.\d]*( UTC|Z)?`)

// sums are the check sums of rows; that of a row with a stamp differs too.
var sums = regexp.MustCompile(`,-?\d{10,19}\b`)

// written is all that a job leaves: its answer, its profile file and every row of its catalogue.
func written(t *testing.T, s Setup) string {
	t.Helper()
	job := runJob(t, s)
	var b bytes.Buffer
	for _, m := range []Members{MembersRoutes, MembersDescents, MembersSkipped, MembersChanges} {
		for text, err := range job.JSON(m) {
			if err != nil {
				t.Fatal(err)
			}
			b.Write(append(text, '\n'))
		}
	}
	if err := job.WriteProfile(&b); err != nil {
		t.Fatal(err)
	}
	if err := job.Close(); err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("sqlite3", "file:"+s.Catalog+"?mode=ro&immutable=1")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for _, table := range textsOf(t, db, "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name") {
		columns := textsOf(t, db, "SELECT 'quote(' || '\"' || name || '\"' || ')' FROM pragma_table_info('"+table+"')")
		rows := textsOf(t, db, `SELECT `+strings.Join(columns, " || ',' || ")+` FROM "`+table+`"`)
		for i, row := range rows {
			if stamps.MatchString(row) {
				rows[i] = sums.ReplaceAllString(stamps.ReplaceAllString(row, "TIME"), ",SUM")
			}
		}
		slices.Sort(rows)
		fmt.Fprintf(&b, "%s\n%s\n", table, strings.Join(rows, "\n"))
	}
	return stamps.ReplaceAllString(b.String(), "TIME")
}

func textsOf(t *testing.T, db *sql.DB, query string) []string {
	t.Helper()
	rows, err := db.Query(query)
	if err != nil {
		t.Fatalf("%s: %v", query, err)
	}
	defer rows.Close()
	var out []string
	for rows.Next() {
		var s string
		if err := rows.Scan(&s); err != nil {
			t.Fatal(err)
		}
		out = append(out, s)
	}
	return out
}

// The answer, the profile file and the rows of the catalogue are the same bytes for any number of
// workers and of processors.
func TestAnyNumberOfWorkersLeavesTheSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("three surveys")
	}
	var first string
	s := demoSetup(t)
	for _, workers := range []int{1, 2, 7} {
		if err := os.RemoveAll(s.Catalog); err != nil {
			t.Fatal(err)
		}
		s.Workers = workers
		before := runtime.GOMAXPROCS(min(workers, 4))
		got := written(t, s)
		runtime.GOMAXPROCS(before)
		if !strings.Contains(got, "veltrane-pass-road-f-") || len(got) < 800_000 {
			t.Fatalf("%d bytes are not a survey of the demonstration", len(got))
		}
		if first == "" {
			first = got
		} else if got != first {
			at := 0
			for at < min(len(got), len(first)) && got[at] == first[at] {
				at++
			}
			t.Fatalf("%d workers: differs from one worker's at byte %d:\n%.200s\n%.200s", workers, at, first[max(0, at-80):], got[max(0, at-80):])
		}
	}
}
