package survey

import (
	"bytes"
	"encoding/csv"
	"testing"

	"gradeline/catalog/specimen"
)

// A route's name is no formula for the spreadsheet that opens the file, in full-width
// signs either, and reads back as it was but for the apostrophe.
func TestProfileRowsHoldNoFormula(t *testing.T) {
	for route, want := range map[string]string{"=cmd|calc": "'=cmd|calc", "＝cmd|calc": "'＝cmd|calc", "\t@x": "'\t'@x", "harrow": "harrow"} {
		var b bytes.Buffer
		if err := writeRows(&b, route, specimen.Profile()); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(&b).ReadAll()
		if err != nil || len(rows) != specimen.Stations {
			t.Fatalf("%d rows: %v", len(rows), err)
		}
		if rows[0][0] != want {
			t.Errorf("%q: %q, want %q", route, rows[0][0], want)
		}
	}
}
