package gpkg

import (
	"context"
	"database/sql/driver"
	"strings"

	"gradeline/catalog"
)

// Records that every change must update in addition to its own rows. All functions are for use
// inside a change.

// LogHistory adds one line to the history.
func (c *File) LogHistory(what, by, descent, route, words string) error {
	return c.LogHistoryAt(c.NowStamp(), what, by, descent, route, words)
}

// LogHistoryAt is LogHistory for a line of another catalogue, with its moment.
func (c *File) LogHistoryAt(at, what, by, descent, route, words string) error {
	if !c.HasRowSums() { // being brought up to date
		return c.d.Run("INSERT INTO history(at, done_by, what, descent, route, words) VALUES (?, ?, ?, ?, ?, ?)", c.d.Args().Add(at, by, what, descent, route, words))
	}
	seal := Seal([]driver.Value{what, at, by, descent, route, words}, "") // in the order of sealedColumns
	return c.d.Run("INSERT INTO history(at, done_by, what, descent, route, words, seal) VALUES (?, ?, ?, ?, ?, ?, ?)", c.d.Args().Add(at, by, what, descent, route, words, seal))
}

// MarkOwnChange marks a change of the reviews as one by this program; the triggers log changes by
// other programs. The mark is removed before the change ends, so that no other program sees it.
func (c *File) MarkOwnChange(on bool) error {
	_, err := c.Exec("UPDATE catalogue SET by_program = ?", on)
	return err
}

// Touch sets when layers last changed.
func (c *File) Touch(layers ...string) error {
	for _, layer := range layers {
		if _, err := c.Exec("UPDATE gpkg_contents SET last_change = ? WHERE table_name = ?", c.NowStamp(), layer); err != nil {
			return err
		}
	}
	return nil
}

// WidenExtent grows the extent that a GIS zooms to.
func (c *File) WidenExtent(layer string, b Envelope) error {
	_, err := c.Exec("UPDATE gpkg_contents SET min_x = min(coalesce(min_x, ?1), ?1), max_x = max(coalesce(max_x, ?2), ?2), min_y = min(coalesce(min_y, ?3), ?3), max_y = max(coalesce(max_y, ?4), ?4), last_change = ?5 WHERE table_name = ?6",
		b.MinX, b.MaxX, b.MinY, b.MaxY, c.NowStamp(), layer)
	return err
}

// DescribeFile writes the file's metadata for any GIS, with the sources of its last survey.
func (c *File) DescribeFile(last *catalog.Provenance) error {
	if _, err := c.Exec("UPDATE gpkg_metadata SET metadata = ? WHERE id = 1", metadata(c.opt.Tool, last)); err != nil {
		return err
	}
	_, err := c.Exec("UPDATE gpkg_metadata_reference SET timestamp = ? WHERE md_file_id = 1", c.NowStamp())
	return err
}

// AllowSpill lets a large change spill to the file before its commit, which blocks readers in the
// meantime, or keeps it in memory.
func (c *File) AllowSpill(on bool) error {
	how := "OFF"
	if on {
		how = "ON"
	}
	_, err := c.w.ExecContext(context.Background(), "PRAGMA cache_spill = "+how)
	return err
}

// AttachReadOnly makes the tables of another catalogue readable under a name by this
// one's writer; outside a change.
func (c *File) AttachReadOnly(ctx context.Context, other *File, name string) error {
	uri, err := other.dsn(other.path, other.readMode())
	if err != nil {
		return err
	}
	return c.defineSchema(func() error {
		_, err = c.w.ExecContext(ctx, "ATTACH ? AS "+name, uri)
		return other.Fault(err, "reading")
	})
}

// CheckAttached refuses an attached catalogue that holds more than data;
// inside the change that reads it.
func (c *File) CheckAttached(ctx context.Context, other *File, name string) error {
	return other.checkSchema(ctx, c.w.QueryContext, name)
}

// TableNames are our tables in order of creation.
func TableNames() []string {
	var out []string
	for i := range tables {
		out = append(out, tables[i].name)
	}
	return out
}

// ColumnNames are the columns of one of our tables, with commas between.
func ColumnNames(table string) string {
	var names []string
	for _, c := range tableNamed(table).columns {
		names = append(names, c.name)
	}
	return strings.Join(names, ", ")
}

// tableNamed is one of our tables; an empty one where there is none of that name.
func tableNamed(name string) *table {
	for i := range tables {
		if tables[i].name == name {
			return &tables[i]
		}
	}
	return &table{}
}

// column is one of the table's columns; an empty one where there is none of that name.
func (t *table) column(name string) column {
	for _, c := range t.columns {
		if c.name == name {
			return c
		}
	}
	return column{}
}

// Placeholders are n question marks with commas between.
func Placeholders(n int) string {
	out := make([]byte, 0, 3*n)
	for i := range n {
		if i > 0 {
			out = append(out, ", "...)
		}
		out = append(out, '?')
	}
	return string(out)
}
