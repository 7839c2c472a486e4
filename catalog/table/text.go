package table

import (
	"io"
	"strings"

	"gradeline/catalog/wording"
)

// Screen is a writer with a number of character columns; 0 where it is not known.
type Screen interface {
	io.Writer
	Columns() int
}

// noteColumns is the width to which notes are wrapped, unless the screen is narrower.
const noteColumns = 78

// WriteText writes a table for a terminal or a mail: aligned columns under a line of dashes,
// figures to the right, the notes below. On a Screen the table fits its width: first columns become
// narrower, then the first column gets a line of its own, then each figure.
func WriteText(w io.Writer, t Table) error {
	most := 0
	if s, ok := w.(Screen); ok {
		most = s.Columns()
	}
	notes := noteColumns
	if most > 0 {
		notes = min(notes, most)
	}
	var b strings.Builder
	if t.Title != "" {
		b.WriteString(wrapTitle(t.Title, most) + "\n\n")
	}
	if len(t.Rows) == 0 {
		b.WriteString("Nothing to list.\n")
	} else {
		textOf(t).write(&b, most)
	}
	if len(t.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, n := range t.Notes {
		b.WriteString(wording.Wrap(shortNote(n), notes, "", "  ") + "\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// shortNote cuts a note, or a word of it, that no name or path of a person is as long as.
func shortNote(s string) string {
	s = wording.WithoutMiddle(wording.Plain(s))
	if len(s) <= wording.MostNameColumns {
		return s
	}
	words := strings.Split(s, " ")
	for i, word := range words {
		words[i] = wording.Shortened(word, wording.MostNameColumns)
	}
	return strings.Join(words, " ")
}

func wrapTitle(title string, most int) string {
	title = shortText(wording.Plain(title))
	if most <= 0 {
		return title
	}
	return wording.Wrap(title, most, "", "")
}

const (
	textColumn   = 28  // the widest that a text column gets before it wraps
	figureColumn = 14  // a long header over short figures wraps
	columnGap    = 2   // spaces between columns
	mostCell     = 600 // columns of one cell: no name or note is longer
	mostWord     = 80  // columns of one word of a cell
)

// text is a table as text: the header is its first row.
type text struct {
	rows  [][]string
	right []bool // columns of figures
}

func textOf(t Table) text {
	x := text{right: make([]bool, len(t.Header))}
	for i := range x.right {
		x.right[i] = columnIsFigures(t, i)
	}
	add := func(of func(i int) string) {
		row := make([]string, len(t.Header))
		for i := range row {
			row[i] = shortText(of(i))
		}
		x.rows = append(x.rows, row)
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
	return x
}

// shortText cuts a cell, or a word of it, that is too long for any screen.
func shortText(s string) string {
	if len(s) <= mostWord {
		return s
	}
	words := strings.Fields(wording.Shortened(s, mostCell))
	for i, word := range words {
		words[i] = wording.Shortened(word, mostWord)
	}
	return strings.Join(words, " ")
}

// write lays out the table in at most width character columns; 0 is no limit.
func (x text) write(b *strings.Builder, most int) {
	if limits := x.limits(most); limits != nil {
		x.writeAligned(b, limits, nil)
		return
	}
	const indent = 2
	rest := x.withoutFirst()
	if limits := rest.limits(most - indent); len(rest.right) > 1 && limits != nil {
		rest.writeAligned(b, limits, x.rows)
		return
	}
	x.writeRecords(b, most)
}

// limits are the columns' widths, so that all fit; nil where they cannot. Columns of text are
// narrowed before figures, and no word is broken.
func (x text) limits(most int) []int {
	limits, least := make([]int, len(x.right)), make([]int, len(x.right))
	sum := columnGap * (len(limits) - 1)
	for i := range limits {
		widest := textColumn
		if x.right[i] {
			widest = figureColumn
		}
		for _, row := range x.rows {
			for _, l := range strings.Split(wording.Wrap(row[i], widest, "", ""), "\n") {
				limits[i] = max(limits[i], wording.Columns(l))
			}
			least[i] = max(least[i], leastColumns(row[i]))
		}
		sum += limits[i]
	}
	for most > 0 && sum > most {
		k := -1
		for i := range limits {
			if limits[i] > least[i] && (k < 0 || limits[i] > limits[k]) {
				k = i
			}
		}
		if k < 0 {
			return nil
		}
		limits[k]--
		sum--
	}
	return limits
}

// leastColumns is the least width of a cell: its longest word, or a short figure with its unit and
// bound.
func leastColumns(s string) int {
	if n := wording.Columns(s); n <= figureColumn && s != "" && s[0] >= '0' && s[0] <= '9' {
		return n
	}
	least := 0
	for _, word := range strings.Fields(s) {
		least = max(least, wording.Columns(word))
	}
	return least
}

// withoutFirst is the table without its first column.
func (x text) withoutFirst() text {
	rest := text{right: x.right[min(1, len(x.right)):]}
	for _, row := range x.rows {
		rest.rows = append(rest.rows, row[min(1, len(row)):])
	}
	return rest
}

// writeAligned writes the rows in columns of those widths. heads, where given, are rows whose first
// cell gets a line of its own above the row, which is then indented.
func (x text) writeAligned(b *strings.Builder, limits []int, heads [][]string) {
	indent := ""
	if heads != nil {
		indent = "  "
	}
	for k, row := range x.rows {
		if heads != nil {
			b.WriteString(heads[k][0] + "\n")
		}
		cells := make([][]string, len(row))
		for i := range row {
			cells[i] = strings.Split(wording.Wrap(row[i], limits[i], "", ""), "\n")
		}
		x.writeRow(b, indent, cells, limits, k == 0)
		if k == 0 {
			rule := make([]string, len(limits))
			for i, n := range limits {
				rule[i] = strings.Repeat("-", n)
			}
			b.WriteString(indent + strings.Join(rule, strings.Repeat(" ", columnGap)) + "\n")
		}
	}
}

// writeRow writes one row, as tall as its tallest cell; headers are aligned at the bottom.
func (x text) writeRow(b *strings.Builder, indent string, cells [][]string, widths []int, isHeader bool) {
	tall := 0
	for _, c := range cells {
		tall = max(tall, len(c))
	}
	for l := range tall {
		out := []string{}
		for i, c := range cells {
			k := l
			if isHeader {
				k = l - (tall - len(c))
			}
			s := ""
			if k >= 0 && k < len(c) {
				s = c[k]
			}
			pad := strings.Repeat(" ", max(0, widths[i]-wording.Columns(s)))
			if x.right[i] {
				s = pad + s
			} else {
				s += pad
			}
			out = append(out, s)
		}
		b.WriteString(strings.TrimRight(indent+strings.Join(out, strings.Repeat(" ", columnGap)), " ") + "\n")
	}
}

// writeRecords writes each row as lines of "header: value", for a screen that has no room
// for columns.
func (x text) writeRecords(b *strings.Builder, most int) {
	for _, row := range x.rows[1:] {
		for i, value := range row {
			if i == 0 {
				b.WriteString(value + "\n")
				continue
			}
			b.WriteString(wording.Wrap(x.rows[0][i]+": "+value, most, "  ", "    ") + "\n")
		}
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
