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
var listFormats = map[string]func(io.Writer, []catalog.Entry, catalog.Units, ...string) error{
	".csv": table.DescentsCSV, ".xlsx": nil, ".txt": table.SummaryText, // a workbook has a sheet for more
}

// ListFile reads the descents of a filter for a file with that ending: .csv, .xlsx, or
// .txt for a mail. steep are the steep parts outside descents, nil for those of the filter. It returns
// what writes the file, or nil where the ending is another.
func ListFile(ctx context.Context, cat *store.Catalog, f store.Filter, steep *store.SteepParts, ending string) (func(io.Writer, catalog.Units) error, error) {
	format, isFormat := listFormats[ending]
	if !isFormat {
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
	f.Brief = true
	parts, err := steepPartsFor(ctx, cat, f, steep)
	if err != nil {
		return nil, err
	}
	found := SteepPartsOf(parts)
	return func(w io.Writer, u catalog.Units) error {
		if ending == ".xlsx" {
			return table.DescentsXLSX(w, es, u, found.fileTable(u))
		}
		return format(w, es, u, found.elsewhere(u))
	}, nil
}

// ListText writes the table for a screen. Everything is read before the first line is written.
func ListText(ctx context.Context, w io.Writer, cat *store.Catalog, f store.Filter, u catalog.Units) error {
	f.Brief, f.Levers = true, true
	l := NewListing(u)
	for e, err := range Entries(ctx, cat, f) {
		if err != nil {
			return err
		}
		l.Add(&e)
	}
	parts, err := cat.SteepParts(ctx, f)
	if err != nil {
		return err
	}
	if err := table.WriteText(w, l.Table()); err != nil {
		return err
	}
	steep := SteepPartsOf(parts)
	return steep.writeText(w, u)
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
