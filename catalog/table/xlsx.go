package table

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"math"
	"sort"
	"strings"

	"github.com/xuri/excelize/v2"

	"gradeline/catalog/wording"
)

// WriteXLSX writes each table to a sheet of its own: figures as numbers, all
// else as text that is never run as a formula, the header frozen and with a
// filter, the notes under the table.
func WriteXLSX(w io.Writer, ts []Table) error {
	f := excelize.NewFile()
	defer f.Close()
	head, err := f.NewStyle(&excelize.Style{
		Font: &excelize.Font{Bold: true}, Alignment: &excelize.Alignment{WrapText: true, Vertical: "bottom"},
		Border: []excelize.Border{{Type: "bottom", Style: 2, Color: "000000"}},
	})
	if err != nil {
		return err
	}
	formats, used := map[int]int{}, map[string]bool{}
	for i, t := range ts {
		name := sheetName(t.Title, used)
		if i == 0 {
			err = f.SetSheetName("Sheet1", name)
		} else {
			_, err = f.NewSheet(name)
		}
		if err == nil {
			err = writeSheet(f, name, t, head, formats)
		}
		if err != nil {
			return err
		}
	}
	f.SetActiveSheet(0)
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return err
	}
	return repack(w, b.Bytes())
}

// repack writes a zip file's parts in the order of their names, since the library's own order
// changes from run to run.
func repack(w io.Writer, b []byte) error {
	r, err := zip.NewReader(bytes.NewReader(b), int64(len(b)))
	if err != nil {
		return err
	}
	sort.SliceStable(r.File, func(i, j int) bool { return r.File[i].Name < r.File[j].Name })
	z := zip.NewWriter(w)
	for _, part := range r.File {
		if err := z.Copy(part); err != nil {
			return err
		}
	}
	return z.Close()
}

// sheetName makes a name that a spreadsheet allows: at most 31 characters, none of : \ / ? * [ ],
// and different from the other sheets' without regard to case.
func sheetName(title string, used map[string]bool) string {
	s := strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]`, r) {
			return '-'
		}
		return r
	}, wording.Plain(title)), "' ")
	if s == "" {
		s = "Table"
	}
	for n := 1; ; n++ {
		number := ""
		if n > 1 {
			number = fmt.Sprintf(" (%d)", n)
		}
		name := []rune(s)
		name = append(name[:min(len(name), 31-len(number))], []rune(number)...)
		if key := strings.ToLower(string(name)); !used[key] {
			used[key] = true
			return string(name)
		}
	}
}

func writeSheet(f *excelize.File, name string, t Table, head int, formats map[int]int) error {
	sw, err := f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	for c := range t.Header {
		if err := sw.SetColWidth(c+1, c+1, columnWidth(t, c)); err != nil {
			return err
		}
	}
	n := len(t.Header)
	if n > 0 {
		if err := sw.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
			return err
		}
	}
	row := 0
	put := func(of func(c int) (any, error), cells int) error {
		row++
		values := make([]any, cells)
		for c := range values {
			v, err := of(c)
			if err != nil {
				return err
			}
			values[c] = v
		}
		return sw.SetRow(cellName(0, row), values)
	}
	if err := put(func(c int) (any, error) { return excelize.Cell{StyleID: head, Value: wording.Plain(t.Header[c])}, nil }, n); err != nil {
		return err
	}
	for _, r := range t.Rows {
		err := put(func(c int) (any, error) {
			if c < len(r) {
				return xlsxCell(f, r[c], formats)
			}
			return xlsxCell(f, nil, formats)
		}, n)
		if err != nil {
			return err
		}
	}
	row++ // an empty row keeps the notes out of the table
	for _, note := range t.Notes {
		if err := put(func(int) (any, error) { return wording.SpreadsheetText(wording.Plain(note)), nil }, 1); err != nil {
			return err
		}
	}
	if err := addFilter(sw, t); err != nil {
		return err
	}
	return sw.Flush()
}

// addFilter adds a filter over the rows; a spreadsheet refuses one over two columns of one name.
func addFilter(sw *excelize.StreamWriter, t Table) error {
	if len(t.Rows) == 0 || !distinct(t.Header) {
		return nil
	}
	plainLook := false
	return sw.AddTable(&excelize.Table{Range: cellName(0, 1) + ":" + cellName(len(t.Header)-1, len(t.Rows)+1), ShowRowStripes: &plainLook})
}

// distinct reports whether no header is empty or occurs twice.
func distinct(header []string) bool {
	seen := map[string]bool{"": true}
	for _, h := range header {
		h = strings.ToLower(wording.Plain(h))
		if seen[h] {
			return false
		}
		seen[h] = true
	}
	return len(header) > 0
}

// cellName is a cell's name by column from 0 and row from 1.
func cellName(col, row int) string {
	s, _ := excelize.CoordinatesToCellName(col+1, row) // fails only outside the sheet
	return s
}

// xlsxCell returns figures as numbers with their decimals and everything else as text; no value is
// a formula, or becomes one when the cell is edited.
func xlsxCell(f *excelize.File, v any, formats map[int]int) (any, error) {
	switch v := v.(type) {
	case int:
		return v, nil
	case Num:
		if isUnknown(v) {
			break
		}
		style, ok := formats[v.Decimals]
		if !ok {
			format := "0"
			if v.Decimals > 0 {
				format += "." + strings.Repeat("0", v.Decimals)
			}
			var err error
			if style, err = f.NewStyle(&excelize.Style{CustomNumFmt: &format}); err != nil {
				return nil, err
			}
			formats[v.Decimals] = style
		}
		k := math.Pow(10, float64(v.Decimals))
		return excelize.Cell{StyleID: style, Value: math.Round(v.V*k) / k}, nil
	}
	s, _ := cell(v)
	return wording.SpreadsheetText(s), nil
}

// columnWidth is wide enough for the cells, and for the header on two lines.
func columnWidth(t Table, c int) float64 {
	n := max(9, len([]rune(t.Header[c]))/2+3)
	for _, row := range t.Rows {
		if c < len(row) {
			s, _ := cell(row[c])
			n = max(n, len([]rune(s))+2)
		}
	}
	return float64(min(n, 40))
}
