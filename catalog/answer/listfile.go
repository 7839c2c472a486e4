package answer

import (
	"context"
	"io"
	"slices"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/table"
)

// listFormats are the files that a list is written to, by ending.
var listFormats = map[string]func(io.Writer, []catalog.Entry, catalog.Units) error{
	".csv": table.DescentsCSV, ".xlsx": table.DescentsXLSX, ".txt": table.SummaryText,
}

// ListFile reads the descents of a filter for a file with that ending: .csv, .xlsx, or
// .txt for a mail. It returns what writes the file, or nil where the ending is another.
func ListFile(ctx context.Context, cat *store.Catalog, f store.Filter, ending string) (func(io.Writer, catalog.Units) error, error) {
	format := listFormats[ending]
	if format == nil {
		return nil, nil
	}
	var es []catalog.Entry
	for e, err := range Entries(ctx, cat, f) {
		if err != nil {
			return nil, err
		}
		es = append(es, tableEntry(e))
	}
	if ending == ".txt" {
		es = ofClass(es, f.Class)
	}
	return func(w io.Writer, u catalog.Units) error { return format(w, es, u) }, nil
}

// ListText writes the table for a screen.
func ListText(ctx context.Context, w io.Writer, cat *store.Catalog, f store.Filter, u catalog.Units) error {
	f.Brief = true
	l := NewListing(u)
	for e, err := range Entries(ctx, cat, f) {
		if err != nil {
			return err
		}
		l.Add(&e)
	}
	return table.WriteText(w, l.Table())
}

// ofClass keeps only the holds of one class; all where no class is named.
func ofClass(es []catalog.Entry, class string) []catalog.Entry {
	if class == "" {
		return es
	}
	for i := range es {
		es[i].Holds = slices.DeleteFunc(slices.Clone(es[i].Holds), func(h catalog.Hold) bool { return h.Class != class })
	}
	return es
}

// tableEntry drops what no table shows, so that memory stays small.
func tableEntry(e catalog.Entry) catalog.Entry {
	e.Line = nil
	for i := range e.Holds {
		h := &e.Holds[i]
		h.Heat, h.Limits, h.Statuses, h.Gears, h.Sensitivity, h.Defaults, h.Cautions = nil, nil, nil, nil, nil, nil, nil
		h.CautionsUS, h.CautionsMetric = nil, nil
		h.Words, h.HeatCase, h.OneGearUp = catalog.Words{}, "", ""
	}
	return e
}
