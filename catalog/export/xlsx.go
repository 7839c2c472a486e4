package export

import (
	"fmt"
	"io"
	"strings"

	"github.com/xuri/excelize/v2"
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
	return f.Write(w)
}

// sheetName makes a name that a spreadsheet allows: at most 31 characters,
// none of : \ / ? * [ ], and no other sheet's, whatever the case.
func sheetName(title string, used map[string]bool) string {
	s := strings.Trim(strings.Map(func(r rune) rune {
		if strings.ContainsRune(`:\/?*[]`, r) {
			return '-'
		}
		return r
	}, plain(title)), "' ")
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
	at := func(col, row int) string {
		s, _ := excelize.CoordinatesToCellName(col+1, row+1)
		return s
	}
	for i, h := range t.Header {
		if err := f.SetCellStr(name, at(i, 0), plain(h)); err != nil {
			return err
		}
	}
	n := len(t.Header)
	if n > 0 {
		if err := f.SetCellStyle(name, at(0, 0), at(n-1, 0), head); err != nil {
			return err
		}
	}
	for r, row := range t.Rows {
		for c := range t.Header {
			var v any
			if c < len(row) {
				v = row[c]
			}
			if err := setCell(f, name, at(c, r+1), v, formats); err != nil {
				return err
			}
		}
	}
	for k, note := range t.Notes {
		if err := f.SetCellStr(name, at(0, len(t.Rows)+2+k), plain(note)); err != nil {
			return err
		}
	}
	for c := range t.Header {
		letter, err := excelize.ColumnNumberToName(c + 1)
		if err == nil {
			err = f.SetColWidth(name, letter, letter, columnWidth(t, c))
		}
		if err != nil {
			return err
		}
	}
	if n == 0 {
		return nil
	}
	if err := f.SetPanes(name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return f.AutoFilter(name, at(0, 0)+":"+at(n-1, len(t.Rows)), nil)
}

func setCell(f *excelize.File, sheet, at string, v any, formats map[int]int) error {
	switch v := v.(type) {
	case int:
		return f.SetCellInt(sheet, at, int64(v))
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
				return err
			}
			formats[v.Decimals] = style
		}
		if err := f.SetCellFloat(sheet, at, v.V, v.Decimals, 64); err != nil {
			return err
		}
		return f.SetCellStyle(sheet, at, at, style)
	}
	s, _ := cell(v)
	return f.SetCellStr(sheet, at, s)
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
