package table

import (
	"fmt"
	"strings"
	"testing"

	"gradeline/catalog/wording"
)

// screen is a terminal of so many columns.
type screen struct {
	strings.Builder
	columns int
}

func (s *screen) Columns() int { return s.columns }

func sampleTable() Table {
	return Table{Title: "Two descents, most dangerous first", Header: []string{"descent", "name", "length", "mean", "it holds"}, Rows: [][]any{
		{"old-quendrel-road-f-0.5", "Old Quendrel Road, southbound", "4.6 km", "11.1 ± 0.2 %", "NOT HELD"},
		{"veltrane-pass-road-b-4.1", "Veltrane Pass Road, westbound", "3.2 km", "4.4 ± 0.2 %", "DRY ROAD ONLY: gear 4H, stage 3, 34 km/h"}},
		Notes: []string{"Advised speeds are rounded down; ± is a 95 % half-width; a planning aid, not a permission."}}
}

// On a screen no line is wider than it is, down to the longest word, and nothing that the
// wide table says is lost.
func TestATableFitsTheScreen(t *testing.T) {
	for _, columns := range []int{30, 40, 60, 79, 80, 100, 132, 300} {
		s := screen{columns: columns}
		if err := WriteText(&s, sampleTable()); err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(s.String(), "\n") {
			if n := wording.Columns(l); n > columns {
				t.Errorf("%d columns on a screen of %d: %q", n, columns, l)
			}
		}
		words := strings.Join(strings.Fields(s.String()), " ")
		for _, part := range []string{"old-quendrel-road-f-0.5", "veltrane-pass-road-b-4.1", "southbound", "11.1 ± 0.2 %", "NOT HELD", "34 km/h"} {
			for _, word := range strings.Fields(part) {
				if !strings.Contains(words, word) {
					t.Errorf("a screen of %d columns lacks %q:\n%s", columns, word, s.String())
				}
			}
		}
		if !strings.Contains(words, "11.1 ± 0.2 %") {
			t.Errorf("a screen of %d columns breaks a figure:\n%s", columns, s.String())
		}
	}
	var wide strings.Builder
	if err := WriteText(&wide, sampleTable()); err != nil {
		t.Fatal(err)
	}
	s := screen{columns: 0}
	if err := WriteText(&s, sampleTable()); err != nil {
		t.Fatal(err)
	}
	if s.String() != wide.String() {
		t.Error("a screen of unknown width gets another table than a file")
	}
}

// A name as long as a file may hold is cut, on every screen.
func TestAnEndlessNameIsCut(t *testing.T) {
	for _, name := range []string{strings.Repeat("x", 1<<20), strings.Repeat("pass ", 1<<18)} {
		for _, columns := range []int{0, 80} {
			tab := sampleTable()
			tab.Title, tab.Rows[0][1] = name, name
			s := screen{columns: columns}
			if err := WriteText(&s, tab); err != nil {
				t.Fatal(err)
			}
			if n := s.Len(); n > 10000 || !strings.Contains(s.String(), "…") {
				t.Errorf("%d bytes for a table of two descents, screen of %d", n, columns)
			}
		}
	}
}

// The rule under the header spans each column, and figures stand to the right.
func TestColumnsAreAligned(t *testing.T) {
	var b strings.Builder
	tab := Table{Header: []string{"name", "drop m"}, Rows: [][]any{{"a", Num{8, 0}}, {"bb", Num{120, 0}}}}
	if err := WriteText(&b, tab); err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprintf("%s\n%s\n%s\n%s\n", "name  drop m", "----  ------", "a          8", "bb       120")
	if b.String() != want {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
