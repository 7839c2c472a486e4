package table

import (
	"io"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
)

// Steep parts, benches and ends that may lie further out are in every table and in the
// mail-sized text, with their bounds rounded up.
func TestPartsOfTheHillAreInEveryTable(t *testing.T) {
	es := []catalog.Entry{specimen.WithParts()}
	csv := string(write(t, func(w io.Writer) error { return DescentsCSV(w, es, catalog.Metric) }))
	for _, want := range []string{"9.3 ± 1.2 % for 0.4 km at station 5000 m", "1.4 % for 0.5 km, with 6.2 % before it and 7.1 % after it at station 3200 m",
		`"Crest at the earliest, station (km)"`, ",1.31,8.24,", ",2.4,1.1,0.7,"} {
		if !strings.Contains(csv, want) {
			t.Errorf("the CSV lacks %q", want)
		}
	}
	parts := PartsTable(es, catalog.Metric)
	if len(parts.Rows) != 2 || parts.Rows[0][2] != "steep part" || parts.Rows[1][2] != "bench" {
		t.Fatalf("rows %v", parts.Rows)
	}
	for _, c := range []struct {
		row, col int
		want     string
	}{{0, 3, "5.00"}, {0, 6, "9.3"}, {0, 7, "1.2"}, {1, 8, "6.2"}, {1, 9, "0.3"}, {1, 10, "7.1"}} {
		if got, _ := cell(parts.Rows[c.row][c.col]); got != c.want {
			t.Errorf("row %d, %s: %s, want %s", c.row, parts.Header[c.col], got, c.want)
		}
	}
	text := strings.Join(strings.Fields(string(write(t, func(w io.Writer) error { return SummaryText(w, es, catalog.US) }))), " ")
	for _, want := range []string{"Steep parts: 9.3 ± 1.2 % for 0.2 mi, from 2.2 mi below the crest on.", "with 6.2 % before it and 7.1 % after it",
		"the hill continues after each", "The hill may begin 650 ft earlier and continue 800 ft further.", "700 ft more may be steep parts."} {
		if !strings.Contains(text, want) {
			t.Errorf("the mail text lacks %q", want)
		}
	}
}
