package table

import (
	"bytes"
	"encoding/csv"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/catalog/wording"
)

func TestDescentsCSV(t *testing.T) {
	es := specimen.Entries()
	b := keep(t, "descents.csv", func(w io.Writer) error { return DescentsCSV(w, es, catalog.US) })
	if !bytes.HasPrefix(b, []byte("\xEF\xBB\xBF")) {
		t.Error("no byte order mark")
	}
	rows, err := csv.NewReader(bytes.NewReader(b[3:])).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, h := range rows[0] {
		at[h] = i
	}
	for _, c := range []struct {
		row        int
		head, want string
	}{
		{1, "Descent", "harrow-1f"}, {1, "Length (mi)", "4.0"}, {1, "Mean downgrade (%)", "6.2"}, {1, "± 95 % (points)", "0.2"},
		{1, "Drop (ft)", "1322"}, {1, "Review", "surveyed"}, {1, "Field-checked", "no"}, {1, "Reviewed by", "none"},
		{1, "Hold: us-5axle", "holds: gear 6, compression brake at stage 3 of 3, 27 mph"}, {1, "Hold: bc-btrain", "NOT HELD"},
		{2, "Flags", "unreliable, borderline"}, {2, "Hold: us-5axle", "unknown: the profile under it is unreliable and not field-checked"},
		{3, "Hold: us-5axle", "unknown: no hold was computed for this class"}, {3, "In question", "class figures changed"},
		{3, "Name", "'=cmd()<script>alert(1)</script>\uFFFDgnp\uFFFD \"Åsen\""},
	} {
		if got := rows[c.row][at[c.head]]; got != c.want {
			t.Errorf("row %d, %s: %q, want %q", c.row, c.head, got, c.want)
		}
	}
	for _, h := range rows[0] { // every figure's unit stands in its header
		if strings.Contains(h, "ation") && !strings.Contains(h, "(") {
			t.Errorf("no unit in %q", h)
		}
	}
	foot := ""
	for _, r := range rows[4:] {
		foot += r[0] + "\n"
	}
	for _, want := range append(catalog.Cautions(), wording.InventedBanner, "harrow.tif") {
		if !strings.Contains(foot, want) {
			t.Errorf("no %q under the table", want)
		}
	}
}

func TestXLSXReadsBack(t *testing.T) {
	es := specimen.Entries()
	b := keep(t, "descents.xlsx", func(w io.Writer) error { return DescentsXLSX(w, es, catalog.Metric) })
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got := strings.Join(f.GetSheetList(), ","); got != "Descents,Holds,Parts" {
		t.Fatalf("sheets %s", got)
	}
	rows, err := f.GetRows("Descents")
	if err != nil {
		t.Fatal(err)
	}
	col := func(head string) string {
		for i, h := range rows[0] {
			if h == head {
				s, _ := excelize.ColumnNumberToName(i + 1)
				return s
			}
		}
		t.Fatalf("no column %q in %q", head, rows[0])
		return ""
	}
	if tables, err := f.GetTables("Descents"); err != nil || len(tables) != 1 || !strings.HasSuffix(tables[0].Range, "4") {
		t.Errorf("the filter: %+v, %v", tables, err)
	}
	for _, c := range []struct {
		cell, want string
		kind       excelize.CellType
	}{
		{col("Mean downgrade (%)") + "2", "6.2", excelize.CellTypeUnset}, // numbers carry no type of their own
		{col("Drop (m)") + "2", "403", excelize.CellTypeUnset},
		{col("Name") + "4", "'=cmd()<script>alert(1)</script>\uFFFDgnp\uFFFD \"Åsen\"", excelize.CellTypeInlineString},
		{col("Hold: us-5axle") + "2", "holds: gear 6, compression brake at stage 3 of 3, 43 km/h", excelize.CellTypeInlineString},
	} {
		got, err := f.GetCellValue("Descents", c.cell)
		kind, err2 := f.GetCellType("Descents", c.cell)
		formula, err3 := f.GetCellFormula("Descents", c.cell)
		if err != nil || err2 != nil || err3 != nil || got != c.want || kind != c.kind || formula != "" {
			t.Errorf("%s: %q of type %v, formula %q, want %q of type %v; %v %v %v", c.cell, got, kind, formula, c.want, c.kind, err, err2, err3)
		}
	}
	// OGR's own reader, which nobody here wrote, finds the same rows.
	path := filepath.Join(t.TempDir(), "d.xlsx")
	if err := os.WriteFile(path, b, 0o600); err != nil {
		t.Fatal(err)
	}
	ogr := run(t, "gdal-bin", "ogr2ogr", "-f", "CSV", "/vsistdout/", path, "-dialect", "SQLite", "-sql",
		`SELECT "Descent", "Mean downgrade (%)", "Hold: bc-btrain" FROM Descents WHERE "No." = 1 OR "No." = '1'`)
	if want := "harrow-1f,6.2,NOT HELD"; !strings.Contains(strings.ReplaceAll(ogr, `"`, ""), want) {
		t.Errorf("OGR reads %s, want %s", ogr, want)
	}
	if again := write(t, func(w io.Writer) error { return DescentsXLSX(w, es, catalog.Metric) }); !bytes.Equal(b, again) {
		t.Error("the same entries gave other bytes")
	}
}

// Tables of anybody's make a workbook that opens: no rows, columns of one
// name, rows too short.
func TestXLSXOddTables(t *testing.T) {
	b := write(t, func(w io.Writer) error {
		return WriteXLSX(w, []Table{{Title: "empty", Header: []string{"A"}}, {Title: "twins", Header: []string{"A", "a"}, Rows: [][]any{{1}}}, {Notes: []string{"=1+1"}}})
	})
	f, err := excelize.OpenReader(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got, _ := f.GetCellValue("twins", "B2"); got != "unknown" {
		t.Errorf("a missing cell reads %q", got)
	}
	if got, _ := f.GetCellFormula("Table", "A3"); got != "" {
		t.Errorf("a note became the formula %q", got)
	}
}

// Ten times the descents take about ten times as long, not a hundred: the
// bound of 40 leaves room for a busy machine.
func TestTablesGrowInStep(t *testing.T) {
	takes := func(n int) time.Duration {
		some, es := specimen.Entries(), make([]catalog.Entry, n)
		for i := range es {
			es[i] = some[i%len(some)]
		}
		best := time.Hour
		for range 3 {
			start := time.Now()
			HoldsTable(es, catalog.US)
			if err := SummaryText(io.Discard, es, catalog.US); err != nil {
				t.Fatal(err)
			}
			best = min(best, time.Since(start))
		}
		return best
	}
	if small, large := takes(300), takes(3000); large > 40*small {
		t.Errorf("300 descents take %v, 3,000 take %v", small, large)
	}
}

func TestSheetNames(t *testing.T) {
	used := map[string]bool{}
	for _, c := range []struct{ in, want string }{
		{"Signs: A/B [x]?", "Signs- A-B -x--"}, {"", "Table"}, {"table", "table (2)"}, {strings.Repeat("å", 40), strings.Repeat("å", 31)},
		{strings.Repeat("å", 33), strings.Repeat("å", 27) + " (2)"}, {"'quoted'", "quoted"},
	} {
		if got := sheetName(c.in, used); got != c.want {
			t.Errorf("%q becomes %q, want %q", c.in, got, c.want)
		}
	}
}

// Whatever the texts, no field of a CSV starts a formula, no control or
// direction character is left, and every record keeps its count of fields.
func TestCSVProperty(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[ '=+@\-＝\t\r\n"<&A-Z0-9]{0,12}`))
		tab := Table{Header: []string{"A", "B"}, Notes: []string{text.Draw(t, "note")}}
		n := rapid.IntRange(0, 5).Draw(t, "rows")
		for range n {
			tab.Rows = append(tab.Rows, []any{text.Draw(t, "text"), Num{rapid.Float64().Draw(t, "figure"), 1}})
		}
		var b bytes.Buffer
		if err := WriteCSV(&b, tab); err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(bytes.NewReader(b.Bytes()[3:])).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		if len(rows) != n+3 {
			t.Fatalf("%d records of %d", len(rows), n+3)
		}
		for _, r := range rows {
			if s := strings.TrimLeft(r[0], " \u00A0\u3000"); s != "" && strings.ContainsRune("=+-@＝＋－＠", []rune(s)[0]) {
				t.Fatalf("field %q starts a formula", r[0])
			}
			for _, c := range strings.Join(r, "") {
				if unicode.IsControl(c) || unicode.Is(unicode.Bidi_Control, c) {
					t.Fatalf("%q keeps %U", r, c)
				}
			}
		}
		var txt bytes.Buffer
		if err := WriteText(&txt, tab); err != nil {
			t.Fatal(err)
		}
	})
}

func TestCells(t *testing.T) {
	for _, c := range []struct {
		in     any
		want   string
		figure bool
	}{
		{nil, "unknown", false}, {Num{math.NaN(), 1}, "unknown", false}, {Num{math.Inf(1), 1}, "unknown", false}, {Num{-0.04, 1}, "0.0", true},
		{Num{-3.25, 2}, "-3.25", true}, {7, "7", true}, {true, "yes", false}, {"a\nb", "a b", false}, {struct{}{}, "unknown", false},
	} {
		if s, figure := cell(c.in); s != c.want || figure != c.figure {
			t.Errorf("%v: %q %v", c.in, s, figure)
		}
	}
	// A mass that holds is rounded down, here from 41,299.99 kg.
	if got := down(wording.MassUnit(catalog.Metric), 41299.99); got.V != 41.2 {
		t.Errorf("41,299.99 kg holds, told as %g t", got.V)
	}
}

func TestWriteText(t *testing.T) {
	es := specimen.Entries()
	b := string(keep(t, "holds.txt", func(w io.Writer) error { return WriteText(w, HoldsTable(es, catalog.US)) }))
	for _, want := range []string{"Holds\n", "NOT HELD", "unknown", "none", "planning aid", "INVENTED"} {
		if !strings.Contains(b, want) {
			t.Errorf("the text lacks %q:\n%s", want, b)
		}
	}
	narrow := Table{Header: []string{"Name", "Length (mi)"}, Rows: [][]any{{"山道", Num{4, 1}}, {"Cinder Gap", Num{12.25, 1}}}}
	want := "Name        Length (mi)\n----------  -----------\n山道                4.0\nCinder Gap         12.2\n"
	if got := string(write(t, func(w io.Writer) error { return WriteText(w, narrow) })); got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
	if got := string(write(t, func(w io.Writer) error { return WriteText(w, Table{Header: []string{"A"}}) })); got != "Nothing to list.\n" {
		t.Errorf("an empty table: %q", got)
	}
}

func TestSummary(t *testing.T) {
	b := string(keep(t, "summary.txt", func(w io.Writer) error { return SummaryText(w, specimen.Entries(), catalog.US) }))
	for _, want := range []string{"3 sustained downgrades", "1. Harrow Hill Road, heading east", "6.2 ± 0.2 %", "holds: us-5axle gear 6, compression brake at stage 3 of 3, 27 mph", "NOT HELD: bc-btrain", "over its steepest 1,600 ft", "IN QUESTION: class figures changed", wording.InventedBanner} {
		if !strings.Contains(strings.Join(strings.Fields(b), " "), want) {
			t.Errorf("the summary lacks %q:\n%s", want, b)
		}
	}
	for _, l := range strings.Split(b, "\n") {
		if len([]rune(l)) > 72 {
			t.Errorf("a line of %d characters: %q", len([]rune(l)), l)
		}
	}
}
