package table

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"
	"unicode"

	"github.com/xuri/excelize/v2"

	"gradeline/catalog/wording"
)

// Any text in a cell: the CSV reads back as one row of as many cells (RFC 4180,
// by Go's own reader), no cell is a formula or holds a control character, and the
// workbook opens with the same text.
func FuzzTables(f *testing.F) {
	for _, s := range []string{"=cmd|' /C calc'!A0", "a,\"b\"\r\nc", " @SUM(1)", "\u202Eevil", "\uff1d1", "\x00\xff", "<b>&amp;", "\ufeff=1", "_x0041_", "_x0041_x0041_", "_x005F_x0041_x0041_x0041_x0041_"} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		table := Table{Title: "T", Header: []string{"x", "y", "z"}, Rows: [][]any{{a, b, Num{1.5, 1}}}}
		var out bytes.Buffer
		if err := WriteCSV(&out, table); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(out.Bytes(), []byte("\ufeff")))).ReadAll()
		if err != nil || len(rows) != 2 || len(rows[1]) != 3 {
			t.Fatalf("%q: %v", out.String(), err)
		}
		for _, c := range rows[1][:2] {
			if s := strings.TrimLeftFunc(c, unicode.IsSpace); s != "" && strings.ContainsRune("=+-@\uff1d\uff0b\uff0d\uff20", []rune(s)[0]) {
				t.Fatalf("%q is a formula", c)
			}
			for _, r := range c {
				if unicode.IsControl(r) {
					t.Fatalf("%q holds a control character", c)
				}
			}
		}
		var aligned bytes.Buffer
		if err := WriteText(&aligned, table); err != nil {
			t.Fatal(err)
		}
		if len(a)+len(b) > 2000 {
			return // a workbook takes long
		}
		out.Reset()
		if err := WriteXLSX(&out, []Table{table}); err != nil {
			t.Fatal(err)
		}
		x, err := excelize.OpenReader(&out)
		if err != nil {
			t.Fatal(err)
		}
		defer x.Close()
		got, err := x.GetRows(x.GetSheetName(0))
		if err != nil {
			t.Fatal(err)
		}
		text, _ := cell(a)
		want := wording.SpreadsheetText(text)
		for _, row := range got {
			if len(row) > 0 && row[0] == want {
				return
			}
		}
		if strings.TrimSpace(want) != "" {
			t.Fatalf("%q is not in %q", want, got)
		}
	})
}
