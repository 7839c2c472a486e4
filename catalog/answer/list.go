package answer

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/survey"
	"gradeline/catalog/table"
	"gradeline/catalog/wording"
)

// ListedDescent is a descent with its advice and the rest of its catalogue entry.
type ListedDescent struct {
	survey.DescentFacts
	Review     catalog.Review     `json:"review"`
	Provenance catalog.Provenance `json:"provenance"`
}

// ListedDescentOf is an entry of the catalogue in the form of an answer.
func ListedDescentOf(e *catalog.Entry) ListedDescent {
	return ListedDescent{survey.DescentFacts{Descent: e.Descent, Holds: e.Holds}, e.Review, e.Provenance}
}

// Entries yields the entries of a catalogue that match a filter, most dangerous first.
func Entries(ctx context.Context, cat *store.Catalog, f store.Filter) iter.Seq2[catalog.Entry, error] {
	return func(yield func(catalog.Entry, error) bool) {
		enough := errors.New("the caller wants no more entries")
		err := cat.Each(ctx, f, func(e catalog.Entry) error {
			if !yield(e, nil) {
				return enough
			}
			return nil
		})
		if err != nil && !errors.Is(err, enough) {
			yield(catalog.Entry{}, err)
		}
	}
}

// ListJSON writes the gradeline/1 object of a list, a descent at a time: memory does not
// grow with the catalogue. The gaps are surveyed roads with unknown stretches.
func ListJSON(w io.Writer, entries iter.Seq2[catalog.Entry, error], parts store.SteepParts, gaps []string) error {
	s := newStream(w)
	s.text("{\n  \"schema\": ").value(catalog.Schema).text(",\n  \"descents\": [")
	end := "]"
	lead := "\n    "
	for e, err := range entries {
		if err == nil {
			err = s.err
		}
		if err != nil {
			return err
		}
		s.text(lead).indented(ListedDescentOf(&e), "    ")
		lead, end = ",\n    ", "\n  ]"
	}
	more := SteepPartsOf(parts)
	s.text(end).text(",\n  \"steep_parts\": ").indented(more.Parts, "  ").text(",\n  \"possible_steep_m\": ").value(more.PossibleSteepM)
	s.text(",\n  \"steep_parts_unknown\": ").indented(more.Unknown, "  ").text(",\n  \"gaps\": ").indented(notNil(gaps), "  ").text(",\n  \"cautions\": ").indented(catalog.Cautions(), "  ")
	return s.text("\n}\n").flush()
}

// Listing collects the table for a screen: one line for each descent, with the answer for the
// heaviest class that has one.
type Listing struct {
	units      catalog.Units
	rows       [][]any
	weathers   []string // of the answers, in the order of the rows; empty for none
	isInvented bool
}

// NewListing makes an empty table in a unit system.
func NewListing(u catalog.Units) *Listing { return &Listing{units: u} }

// withFlags is a name with the flags behind it.
func withFlags(name string, flags []string) string {
	if len(flags) == 0 {
		return name
	}
	return name + " [" + strings.Join(flags, ", ") + "]"
}

// Add adds the line of a descent.
func (l *Listing) Add(e *catalog.Entry) {
	d, u := &e.Descent, l.units
	who, what := heaviestWords(e, u)
	l.weathers = append(l.weathers, weatherOf(catalog.Heaviest(e.Holds), u))
	name := withFlags(d.Name, d.Flags)
	if q := e.Review.InQuestion; q != "" {
		name += " [IN QUESTION: " + q + "]"
	}
	l.rows = append(l.rows, []any{d.ID, name, u.Length(d.LengthM), u.Height(d.DropM),
		catalog.GradeWithBound(d.MeanDowngradePct, d.MeanDowngradeErrPct), fmt.Sprintf("%.1f %%", d.Steepest500Pct), who, what})
	l.isInvented = l.isInvented || e.Provenance.Invented
}

// Table is the table of what was added.
func (l *Listing) Table() table.Table {
	t := table.Table{Title: fmt.Sprintf("%d descents, most dangerous first", len(l.rows)), Rows: l.rows,
		Header: []string{"descent", "name", "length", "drop", "mean", "steepest 500 m", "heaviest truck", "it holds"}}
	if len(l.rows) == 1 {
		t.Title = "1 descent"
	}
	if l.units == catalog.US {
		t.Header[5] = "steepest 1,600 ft"
	}
	if l.isInvented {
		t.Notes = append(t.Notes, wording.InventedBanner)
	}
	t.Notes = append(t.Notes, `"NOT HELD": no gear holds it on the retarder alone. "`+catalog.DryRoadOnly+`": on any other surface the stage may lock the driven wheels. Advised speeds are rounded down; ± is a 95 % half-width.`)
	l.noteWeather(&t)
	t.Notes = append(t.Notes, catalog.Cautions()...)
	return t
}

// weatherOf is the weather of a hold in words; empty for none.
func weatherOf(h *catalog.Hold, u catalog.Units) string {
	if h == nil || h.Weather == nil {
		return ""
	}
	return h.Weather.Words(u)
}

// noteWeather notes the weather of all answers; where they differ, each row has its own.
func (l *Listing) noteWeather(t *table.Table) {
	known := slices.DeleteFunc(slices.Clone(l.weathers), func(w string) bool { return w == "" })
	if len(known) == 0 {
		return
	}
	first := known[0]
	if len(known) == len(l.weathers) && !slices.ContainsFunc(known, func(w string) bool { return w != first }) {
		t.Notes = append(t.Notes, "Advice for "+first+"; in other weather ask for it anew.")
		return
	}
	t.Header = append(slices.Clone(t.Header), "for")
	t.Rows = nil
	for i, row := range l.rows {
		t.Rows = append(t.Rows, append(slices.Clone(row), cmp.Or(l.weathers[i], "not stored")))
	}
}

// ListTable is the Listing of some entries.
func ListTable(es []catalog.Entry, u catalog.Units) table.Table {
	l := NewListing(u)
	for i := range es {
		l.Add(&es[i])
	}
	return l.Table()
}

// heaviestWords is the answer for the heaviest class that has one.
func heaviestWords(e *catalog.Entry, u catalog.Units) (who, what string) {
	best := catalog.Heaviest(e.Holds)
	if best == nil {
		return "unknown", "no class was requested"
	}
	who = fmt.Sprintf("%s, %s", best.Class, u.MassDown(best.MassKg))
	if a, _, why := wording.AnswerFor(e, best.Class); a == wording.Unknown {
		return who, "unknown: " + why
	}
	if !best.Holds {
		return who, adviceWords(best, u)
	}
	return who, wording.IfInQuestion(e) + adviceWords(best, u)
}

// adviceWords is a hold in a table's cell. Dry road only is in capitals, like not held.
func adviceWords(h *catalog.Hold, u catalog.Units) string {
	if !h.Holds {
		return "NOT HELD"
	}
	words := fmt.Sprintf("gear %s, %s, %s", h.GearLabel(), h.StageWords(), u.Speed(h.SpeedMPS))
	if h.IsDryRoadOnly() {
		return catalog.DryRoadOnly + ": " + words
	}
	return words
}
