package export

import (
	"encoding/csv"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Table is a table for people: a unit stands in the header of every column
// that has one. A cell is a string, an int, a bool, a Num, or nil for what is
// not known, which is written as the word "unknown".
type Table struct {
	Title  string
	Header []string
	Rows   [][]any
	Notes  []string // written under the table
}

// Num is a figure with the decimals that it is worth. NaN and infinite figures
// are written as "unknown".
type Num struct {
	V        float64
	Decimals int
}

// cell gives a cell as text, and whether it is a figure.
func cell(v any) (s string, isFigure bool) {
	switch v := v.(type) {
	case string:
		return plain(v), false
	case int:
		return strconv.Itoa(v), true
	case Num:
		if isUnknown(v) {
			return "unknown", false
		}
		s := strconv.FormatFloat(v.V, 'f', v.Decimals, 64)
		if strings.Trim(s, "-0.") == "" {
			s = strings.TrimPrefix(s, "-") // no negative zero
		}
		return s, true
	case bool:
		if v {
			return "yes", false
		}
		return "no", false
	}
	return "unknown", false
}

func isUnknown(n Num) bool { return math.IsNaN(n.V) || math.IsInf(n.V, 0) }

// formulaSafe puts an apostrophe before text that a spreadsheet would run as a
// formula: one that starts, after spaces, with = + - @ or their full-width
// forms (OWASP, "CSV Injection", from memory).
func formulaSafe(s string) string {
	if strings.HasPrefix(s, "'") || strings.IndexAny(strings.TrimLeft(s, " \u00A0\u3000"), "=+-@＝＋－＠") == 0 {
		return "'" + s
	}
	return s
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
		_ = c.Write(record) // kept by the writer, see c.Error below
	}
	put(func(i int) string { return formulaSafe(plain(t.Header[i])) })
	for _, row := range t.Rows {
		put(func(i int) string {
			if i >= len(row) {
				return "unknown"
			}
			s, isFigure := cell(row[i])
			if isFigure {
				return s
			}
			return formulaSafe(s)
		})
	}
	if len(t.Notes) > 0 {
		put(func(int) string { return "" })
	}
	for _, n := range t.Notes {
		put(func(i int) string {
			if i == 0 {
				return formulaSafe(plain(n))
			}
			return ""
		})
	}
	c.Flush()
	return c.Error()
}

// WriteText writes a table for a terminal or a mail: aligned columns under a
// rule of dashes, figures to the right, the notes below.
func WriteText(w io.Writer, t Table) error {
	var b strings.Builder
	if t.Title != "" {
		b.WriteString(plain(t.Title) + "\n\n")
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
		b.WriteString(wrap(plain(n), 78, "", "  ") + "\n")
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
			cells[i] = strings.Split(wrap(of(i), most, "", ""), "\n")
			for _, l := range cells[i] {
				widths[i] = max(widths[i], columns(l))
			}
		}
		lines = append(lines, cells)
	}
	add(func(i int) string { return plain(t.Header[i]) })
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
		tall := 0
		for _, c := range cells {
			tall = max(tall, len(c))
		}
		for l := 0; l < tall; l++ {
			var out strings.Builder
			for i, c := range cells {
				at := l
				if k == 0 {
					at = l - (tall - len(c)) // headers sit on the rule
				}
				s := ""
				if at >= 0 && at < len(c) {
					s = c[at]
				}
				pad := strings.Repeat(" ", widths[i]-columns(s))
				if right[i] {
					out.WriteString(pad + s + "  ")
				} else {
					out.WriteString(s + pad + "  ")
				}
			}
			b.WriteString(strings.TrimRight(out.String(), " ") + "\n")
		}
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

// columns is how many columns of a terminal a text takes: two for each wide
// character of East Asian writing, none for combining marks.
func columns(s string) int {
	n := 0
	for _, r := range s {
		switch k := width.LookupRune(r).Kind(); {
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
		case k == width.EastAsianWide || k == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
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

// Wrapped breaks text that begins in column indentCols into lines of at most so
// many columns, each but the first set in by indentCols.
func Wrapped(s string, mostCols, indentCols int) string {
	in := strings.Repeat(" ", indentCols)
	return strings.TrimPrefix(wrap(s, mostCols, in, in), in)
}

// wrap breaks text at spaces into lines of at most so many characters.
func wrap(s string, most int, first, rest string) string {
	var lines []string
	cur, indent := first, first
	for _, word := range strings.Fields(s) {
		if columns(cur)+1+columns(word) > most && cur != indent {
			lines, cur, indent = append(lines, cur), rest, rest
		}
		if cur != indent {
			cur += " "
		}
		cur += word
	}
	return strings.Join(append(lines, cur), "\n")
}
