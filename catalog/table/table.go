// Package table writes lists of descents and holds as CSV, XLSX, aligned text and a
// mail-sized summary.
//
// A Table names the unit of each column in its header. Its cells are figures with a
// number of decimals, words, or nil for an unknown value, which is written as
// "unknown". A spreadsheet never runs the text of a cell as a formula. The same table
// gives the same bytes. Errors are those of the writer, or of the XLSX library where a
// table is larger than a worksheet may be.
package table

import (
	"encoding/csv"
	"io"

	"gradeline/catalog/wording"
)

// Table is a table for people: the header of a column names its unit, if it has one. A cell is a
// string, an int, a bool, a Num, or nil for an unknown value, which is written as "unknown".
type Table struct {
	Title  string
	Header []string
	Rows   [][]any
	Notes  []string // written under the table
}

// WriteCSV writes a table as CSV (RFC 4180) in UTF-8 with a byte order mark,
// without which spreadsheets misread accents. Notes follow after an empty
// record, in the first field.
func WriteCSV(w io.Writer, t Table) error {
	if _, err := io.WriteString(w, "\uFEFF"); err != nil {
		return err
	}
	c := csv.NewWriter(w)
	c.UseCRLF = true
	record := make([]string, len(t.Header))
	put := func(of func(i int) string) {
		for i := range record {
			record[i] = of(i)
		}
		_ = c.Write(record) // the writer keeps the error, see c.Error below
	}
	put(func(i int) string { return wording.SpreadsheetText(wording.Plain(t.Header[i])) })
	for _, row := range t.Rows {
		put(func(i int) string {
			if i >= len(row) {
				return "unknown"
			}
			s, isFigure := cell(row[i])
			if isFigure {
				return s
			}
			return wording.SpreadsheetText(s)
		})
	}
	if len(t.Notes) > 0 {
		put(func(int) string { return "" })
	}
	for _, n := range t.Notes {
		put(func(i int) string {
			if i == 0 {
				return wording.SpreadsheetText(wording.Plain(n))
			}
			return ""
		})
	}
	c.Flush()
	return c.Error()
}
