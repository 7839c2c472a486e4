package shared

import (
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog/gpkg"
)

// pull copies to the file what the database has beyond the file's mark, and reports whether there was
// anything. q must see one state of the database; inside a change of the file.
func (p *place) pull(ctx context.Context, q queries, c *gpkg.File) (wrote bool, err error) {
	now, err := p.read(ctx, q)
	if err != nil {
		return false, err
	}
	if now.version < gpkg.TablesVersion {
		return false, p.older(now.version)
	}
	mark, err := gpkg.ReadCopyMark(c)
	if err != nil {
		return false, err
	}
	if mark.Database == now.id && mark.Number == now.number {
		if mark.Change == now.change {
			return false, nil
		}
		return false, errForeignCopy
	}
	if mark.Database != "" {
		if err := p.checkMark(ctx, q, mark, now); err != nil {
			return false, err
		}
	}
	if err := p.pullRows(ctx, q, c, mark.Number); err != nil {
		return false, err
	}
	return true, c.WriteCopyMark(gpkg.CopyMark{Database: now.id, Number: now.number, Change: now.change})
}

// errForeignCopy says that a local copy is not a copy of an earlier state of this database, which
// may have been restored from a backup.
var errForeignCopy = fmt.Errorf("the local copy is of another database")

// checkMark fails where the database does not have the change up to which the file is its copy.
func (p *place) checkMark(ctx context.Context, q queries, mark gpkg.CopyMark, now state) error {
	if mark.Database != now.id || mark.Number > now.number {
		return errForeignCopy
	}
	var isKnown bool
	err := q.QueryRow(ctx, p.filled("SELECT EXISTS (SELECT FROM {s}.shared_changes WHERE number = $1 AND id::text = $2)"), mark.Number, mark.Change).Scan(&isKnown)
	if err == nil && !isKnown {
		err = errForeignCopy
	}
	return err
}

// pullRows copies the rows that changed after a number.
func (p *place) pullRows(ctx context.Context, q queries, c *gpkg.File, after int64) error {
	if err := c.DeferKeys(); err != nil {
		return err
	}
	if err := c.MarkOwnChange(true); err != nil { // what was done by hand is logged by the database
		return err
	}
	if err := p.pullDeleted(ctx, q, c, after); err != nil {
		return err
	}
	w := puller{c: c, changed: map[string]bool{}, extents: map[string]*gpkg.Envelope{}}
	for i := range tables {
		if tables[i].Name == "catalogue" {
			continue
		}
		if err := p.pullTable(ctx, q, &w, &tables[i], after); err != nil {
			return err
		}
	}
	if err := c.MarkOwnChange(false); err != nil {
		return err
	}
	if err := p.pullTable(ctx, q, &w, tableNamed("catalogue"), after); err != nil {
		return err
	}
	keys, err := p.lastKeys(ctx, q)
	if err == nil {
		err = c.RaiseLastKeys(keys)
	}
	if err != nil {
		return err
	}
	return w.describe()
}

func (p *place) lastKeys(ctx context.Context, q queries) (map[string]int64, error) {
	rows, err := q.Query(ctx, p.filled("SELECT table_name, last FROM {s}.shared_keys"))
	if err != nil {
		return nil, err
	}
	out := map[string]int64{}
	var name string
	var last int64
	_, err = pgx.ForEachRow(rows, []any{&name, &last}, func() error { out[name] = last; return nil })
	return out, err
}

func (p *place) pullDeleted(ctx context.Context, q queries, c *gpkg.File, after int64) error {
	rows, err := q.Query(ctx, p.filled("SELECT table_name, fid FROM {s}.shared_deleted WHERE changed > $1"), after)
	if err != nil {
		return err
	}
	if err := c.OverwriteDeleted(); err != nil { // a drive that is forgotten leaves no bytes
		return err
	}
	var name string
	var fid int64
	_, err = pgx.ForEachRow(rows, []any{&name, &fid}, func() error {
		if tableNamed(name) == nil {
			return nil
		}
		return c.Direct().Run("DELETE FROM main."+name+" WHERE fid = ?", c.Direct().Args().Add(fid))
	})
	return err
}

// puller writes rows of the database to the file.
type puller struct {
	c       *gpkg.File
	changed map[string]bool // by table
	extents map[string]*gpkg.Envelope
}

func (p *place) pullTable(ctx context.Context, q queries, w *puller, t *table, after int64) error {
	rows, err := q.Query(ctx, p.filled("SELECT "+t.inDatabase()+" FROM {s}."+t.Name+" WHERE changed > $1 ORDER BY fid"), after)
	if err != nil {
		return err
	}
	defer rows.Close()
	upsert := t.upsertSQL()
	for rows.Next() {
		values, err := rows.Values()
		if err != nil {
			return err
		}
		if err := w.write(t, upsert, values); err != nil {
			return inRow(err, p.name, t.Name, values[0])
		}
	}
	return rows.Err()
}

func (w *puller) write(t *table, upsert string, values []any) error {
	d := w.c.Direct()
	args := d.Args()
	for i := range t.columns {
		v, err := t.columns[i].fromDatabase(values[i])
		if err != nil {
			return err
		}
		args = args.Add(v)
	}
	w.changed[t.Name] = true
	if t.Geometry != "" {
		w.widen(t, args)
		// The index's triggers replace its row, but not within an upsert, whose own rule for conflicts
		// holds for its triggers too (sqlite.org/lang_createtrigger.html).
		if err := d.Run("DELETE FROM main.rtree_"+t.Name+"_geom WHERE id = ?", d.Args().Add(args[0].Value)); err != nil {
			return err
		}
	}
	return d.Run(upsert, args)
}

// widen grows the extent of the rows that were written.
func (w *puller) widen(t *table, row gpkg.Args) {
	i := slices.IndexFunc(t.columns, func(c column) bool { return c.kind == lineKind || c.kind == pointKind })
	blob, _ := row[i].Value.([]byte)
	b, ok := gpkg.EnvelopeOfBlob(blob)
	if !ok {
		return
	}
	all := w.extents[t.Name]
	if all == nil {
		e := gpkg.EmptyEnvelope()
		all = &e
		w.extents[t.Name] = all
	}
	all.Add(b.MinX, b.MinY)
	all.Add(b.MaxX, b.MaxY)
}

// describe updates the GeoPackage's own tables.
func (w *puller) describe() error {
	for _, t := range tables {
		if !w.changed[t.Name] {
			continue
		}
		err := w.c.Touch(t.Name)
		if b := w.extents[t.Name]; err == nil && b != nil {
			err = w.c.WidenExtent(t.Name, *b)
		}
		if err != nil {
			return err
		}
	}
	if w.changed["provenance"] {
		return w.c.DescribeLastSurvey()
	}
	return nil
}

// upsertSQL inserts a row, or replaces the columns of the row with that key. It never deletes one, on
// which others may depend.
func (t *table) upsertSQL() string {
	names := t.names()
	var sets []string
	for _, n := range names[1:] {
		sets = append(sets, n+" = excluded."+n)
	}
	return "INSERT INTO main." + t.Name + "(" + strings.Join(names, ", ") + ") VALUES (" + gpkg.Placeholders(len(names)) + ") ON CONFLICT(fid) DO UPDATE SET " + strings.Join(sets, ", ")
}

// inRow names the row of a fault without a place.
func inRow(err error, file, table string, fid driver.Value) error {
	if f, ok := err.(*Fault); ok && f.Feature == "" {
		f.File, f.Feature = file, fmt.Sprintf("table %s, row %v", table, fid)
	}
	return err
}
