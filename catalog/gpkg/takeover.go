package gpkg

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gradeline/catalog"
	"gradeline/terrain"
)

// OpenForExamination opens a catalogue for reading even where Open refuses its
// schema: for doctor. No refused definition is run; see Refused.
func OpenForExamination(ctx context.Context, path string, o Options) (*File, error) {
	o.ReadOnly, o.Create = true, false
	return openFile(ctx, path, o, true)
}

// Refused lists the definitions for which Open refuses the file, in words.
func (c *File) Refused() []string {
	var out []string
	for i := range c.refused {
		out = append(out, c.refused[i].String())
	}
	return out
}

// TakeOver copies the rows of our tables into a new, clean catalogue: plain values
// only, none of the definitions of the source. It fails on rows that a clean catalogue
// cannot hold. A view or other object in the place of a table is lost if the table
// holds no advice and no decision of a person; otherwise TakeOver fails. It returns the
// number of rows of each table, and which tables are lost.
func (c *File) TakeOver(ctx context.Context, to *File, by string) (counts map[string]int, lost []string, err error) {
	counts = map[string]int{}
	err = c.Read(ctx, func(q Querier) error {
		return to.Change(ctx, func() error {
			if err := to.MarkOwnChange(true); err != nil {
				return err
			}
			for i := range tables {
				t := &tables[i]
				if t.name == "catalogue" {
					continue
				}
				n, err := takeOverTable(ctx, c.path, q, to, t)
				if errors.Is(err, errNoTable) && slices.Contains(sparedTables, t.name) {
					lost = append(lost, t.name)
					continue
				}
				if err != nil {
					return err
				}
				counts[t.name] = n
			}
			if err := sealTakenOver(q, to, len(lost) > 0); err != nil {
				return err
			}
			if err := to.MarkOwnChange(false); err != nil {
				return err
			}
			if err := to.RefreshDescription(); err != nil {
				return err
			}
			words := "data copied from a file that held: " + strings.Join(c.Refused(), "; ")
			if len(lost) > 0 {
				words += "; lost: all rows of " + strings.Join(lost, ", ")
			}
			return to.LogHistory("repaired", by, "", "", words)
		})
	})
	return counts, lost, err
}

// sparedTables may be lost: without them a catalogue still has the same advice and review states.
var sparedTables = []string{"tangents", "sources", "history", "drives"}

var errNoTable = errors.New("no plain table of that name")

// takeOverTable copies the rows of one table, column by column by name.
func takeOverTable(ctx context.Context, path string, q Querier, to *File, t *table) (int, error) {
	var definition string
	isTable, err := First(q, []any{&definition}, "SELECT sql FROM sqlite_master WHERE type = 'table' AND name = ?", t.name)
	if err != nil {
		return 0, err
	}
	if !isTable && slices.Contains(laterTables, t.name) { // of a version before; where it is not, what refers to its rows is refused
		return 0, nil
	}
	if tokens := sqlTokens(definition); !isTable || len(tokens) < 3 || tokens[1] != "table" {
		return 0, &Fault{Kind: terrain.ErrRead, File: path, What: "has no table " + t.name, Err: errNoTable, Fix: "restore the last copy"}
	}
	columns, err := plainColumns(q, t)
	if err != nil {
		return 0, err
	}
	list := strings.Join(columns, ", ")
	insert := "INSERT INTO " + t.name + "(" + list + ") VALUES (" + Placeholders(len(columns)) + ")"
	n := 0
	// A plus before a column stops the driver from converting it to a time or a truth value.
	err = q.Direct().Each("SELECT +"+strings.Join(columns, ", +")+" FROM main."+t.name+" NOT INDEXED", q.Direct().Args(), func(row []driver.Value) error {
		if n++; n%1000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		if err := to.d.Run(insert, to.d.Args().Add(row...)); err != nil {
			return &Fault{Kind: terrain.ErrRead, File: path, Feature: fmt.Sprintf("table %s, row %d", t.name, n), What: "cannot be copied", Err: err, Fix: "restore the last copy; nothing was changed"}
		}
		return nil
	})
	return n, err
}

// sealTakenOver gives the rows of an older version their check sums, and intact roads those that
// count what is lost.
func sealTakenOver(q Querier, to *File, isLost bool) error {
	columns, err := plainColumns(q, tableNamed("routes"))
	if err != nil {
		return err
	}
	if !slices.Contains(columns, "seal") {
		return to.SealAllRows()
	}
	var roads []int64
	if err := Keys(to, &roads, "SELECT fid FROM main.routes"); err != nil || !isLost {
		return err
	}
	for _, fid := range roads {
		if CheckRow(to, "routes", fid) != nil {
			continue
		}
		if err := to.SealRoute(fid); err != nil {
			return err
		}
	}
	return nil
}

// plainColumns are the columns of ours that a table has, without generated ones.
func plainColumns(q Querier, t *table) ([]string, error) {
	have := map[string]bool{}
	err := Each(q, func(rows *sql.Rows) error {
		var name string
		var hidden int
		err := rows.Scan(&name, &hidden)
		have[name] = hidden == 0
		return err
	}, "SELECT name, hidden FROM pragma_table_xinfo(?)", t.name)
	var out []string
	for _, c := range t.columns {
		if have[c.name] {
			out = append(out, c.name)
		}
	}
	return out, err
}

// RefreshDescription updates the GeoPackage's own tables for all rows: the extents, and the
// description of the last survey; inside a change.
func (c *File) RefreshDescription() error {
	for _, layer := range featureLayers() {
		all, err := LayerEnvelope(c, layer)
		if err == nil && !all.IsEmpty() {
			err = c.WidenExtent(layer, all)
		}
		if err != nil {
			return err
		}
	}
	if err := c.d.Run("UPDATE main.gpkg_contents SET last_change = ? WHERE table_name <> 'catalogue'", c.d.Args().Add(c.NowStamp())); err != nil {
		return err
	}
	return c.DescribeLastSurvey()
}

// DescribeLastSurvey writes the file's metadata from its last survey; inside a change.
func (c *File) DescribeLastSurvey() error {
	var details string
	found, err := First(c, []any{&details}, "SELECT details FROM main.provenance ORDER BY at DESC, fid DESC LIMIT 1")
	if err != nil || !found {
		return err
	}
	var last catalog.Provenance
	if err := json.Unmarshal([]byte(details), &last); err != nil {
		return &Fault{Kind: terrain.ErrRead, File: c.path, What: "its provenance cannot be read", Err: err, Fix: "check the catalogue with doctor"}
	}
	return c.DescribeFile(&last)
}
