package table

import (
	"io"
	"strings"

	"gradeline/catalog/wording"
)

// WriteText writes a table for a terminal or a mail: aligned columns under a
// rule of dashes, figures to the right, the notes below.
func WriteText(w io.Writer, t Table) error {
	var b strings.Builder
	if t.Title != "" {
		b.WriteString(wording.Plain(t.Title) + "\n\n")
	}
	if len(t.Rows) == 0 {
		b.WriteString("Nothing to list.\n")
	} else {
		alignInto(&b, t)
	}
	if len(t.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, n := range t.Notes {
		b.WriteString(wording.Wrap(wording.Plain(n), 78, "", "  ") + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// textColumn is the widest that a text column gets before it wraps.
const textColumn = 28

// alignInto writes the header and rows; a cell that wraps takes more lines.
func alignInto(b *strings.Builder, t Table) {
	n := len(t.Header)
	widths, right := make([]int, n), make([]bool, n)
	lines := make([][][]string, 0, len(t.Rows)+1)
	for i := range right {
		right[i] = columnIsFigures(t, i)
	}
	add := func(of func(i int) string) {
		cells := make([][]string, n)
		for i := range cells {
			most := textColumn
			if right[i] {
				most = 14 // a long header over short figures takes more lines
			}
			cells[i] = strings.Split(wording.Wrap(of(i), most, "", ""), "\n")
			for _, l := range cells[i] {
				widths[i] = max(widths[i], wording.Columns(l))
			}
		}
		lines = append(lines, cells)
	}
	add(func(i int) string { return wording.Plain(t.Header[i]) })
	for _, row := range t.Rows {
		add(func(i int) string {
			if i >= len(row) {
				return "unknown"
			}
			s, _ := cell(row[i])
			return s
		})
	}
	for k, cells := range lines {
		writeAligned(b, cells, widths, right, k == 0)
		if k == 0 {
			for i, wd := range widths {
				if i > 0 {
					b.WriteString("  ")
				}
				b.WriteString(strings.Repeat("-", wd))
			}
			b.WriteString("\n")
		}
	}
}

// writeAligned writes one row, as tall as its tallest cell; headers sit on the rule.
func writeAligned(b *strings.Builder, cells [][]string, widths []int, right []bool, isHeader bool) {
	tall := 0
	for _, c := range cells {
		tall = max(tall, len(c))
	}
	for l := range tall {
		var out strings.Builder
		for i, c := range cells {
			at := l
			if isHeader {
				at = l - (tall - len(c))
			}
			s := ""
			if at >= 0 && at < len(c) {
				s = c[at]
			}
			pad := strings.Repeat(" ", widths[i]-wording.Columns(s))
			if right[i] {
				out.WriteString(pad + s + "  ")
			} else {
				out.WriteString(s + pad + "  ")
			}
		}
		b.WriteString(strings.TrimRight(out.String(), " ") + "\n")
	}
}

func columnIsFigures(t Table, i int) bool {
	any := false
	for _, row := range t.Rows {
		if i < len(row) && row[i] != nil {
			if _, isFigure := cell(row[i]); !isFigure {
				return false
			}
			any = true
		}
	}
	return any
}
