package shared

import (
	"context"
	"database/sql/driver"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// push stores changed rows of the file in the database, inside the transaction that has the lock.
// base is the number up to which the file is the database's copy: a row that has changed since is
// refused.
func (p *place) push(ctx context.Context, tx pgx.Tx, c *gpkg.File, changed []gpkg.ChangedRows, base int64) error {
	for i := len(changed) - 1; i >= 0; i-- { // what depends on others goes first
		if err := p.deleteRows(ctx, tx, &changed[i], base); err != nil {
			return err
		}
	}
	for i := range changed {
		t := tableNamed(changed[i].Table)
		if err := p.updateRows(ctx, tx, c.Direct(), t, changed[i].Updated, base); err != nil {
			return err
		}
		if err := p.insertRows(ctx, tx, c.Direct(), t, changed[i].Inserted); err != nil {
			return err
		}
	}
	return p.pushKeys(ctx, tx, c, changed)
}

// overtaken is the fault of rows that somebody has changed past the lock, or taken away.
func (p *place) overtaken(table string, have, want int64) error {
	return &Fault{Kind: catalog.ErrBusy, File: p.name, Feature: "table " + table, What: fmt.Sprintf("%d of %d rows have changed in the meantime", want-have, want), Fix: "look at it again, then decide; nothing was stored"}
}

func (p *place) deleteRows(ctx context.Context, tx pgx.Tx, rows *gpkg.ChangedRows, base int64) error {
	if len(rows.Deleted) == 0 {
		return nil
	}
	tag, err := tx.Exec(ctx, p.filled("DELETE FROM {s}."+rows.Table+" WHERE fid = ANY($1) AND changed <= $2"), rows.Deleted, base)
	if n := int64(len(rows.Deleted)); err == nil && tag.RowsAffected() != n {
		err = p.overtaken(rows.Table, tag.RowsAffected(), n)
	}
	return err
}

// rowsAtOnce is how many updates go to the server before their answers are read.
const rowsAtOnce = 500

func (p *place) updateRows(ctx context.Context, tx pgx.Tx, d *gpkg.Direct, t *table, fids []int64, base int64) error {
	sql := p.filled(t.updateSQL())
	for len(fids) > 0 {
		n := min(rowsAtOnce, len(fids))
		var b pgx.Batch
		err := t.eachRow(d, fids[:n], func(values []any) error {
			b.Queue(sql, append(values, base)...)
			return nil
		})
		if err != nil {
			return err
		}
		answers := tx.SendBatch(ctx, &b)
		written := int64(0)
		for range b.Len() {
			tag, e := answers.Exec()
			if err == nil {
				err = e
			}
			written += tag.RowsAffected()
		}
		if e := answers.Close(); err == nil {
			err = e
		}
		if err != nil {
			return err
		}
		if written != int64(n) {
			return p.overtaken(t.Name, written, int64(n))
		}
		fids = fids[n:]
	}
	return nil
}

// updateSQL writes all columns of the row with the key in $1.
func (t *table) updateSQL() string {
	var sets []string
	for i, c := range t.columns[1:] {
		sets = append(sets, quoted(c.Name)+" = "+c.parameter(i+2))
	}
	return fmt.Sprintf("UPDATE {s}.%s SET %s WHERE fid = $1 AND changed <= $%d", t.Name, strings.Join(sets, ", "), len(t.columns)+1)
}

// parameter is the n-th parameter of a statement, converted to the column's type.
func (c *column) parameter(n int) string {
	switch c.kind {
	case lineKind, pointKind:
		return fmt.Sprintf("{gis}.ST_GeomFromWKB($%d::bytea, 4326)", n)
	case jsonKind:
		return fmt.Sprintf("$%d::text::json", n)
	}
	return fmt.Sprintf("$%d", n)
}

func (p *place) insertRows(ctx context.Context, tx pgx.Tx, d *gpkg.Direct, t *table, fids []int64) error {
	for len(fids) > 0 {
		n := min(rowsPerCopy, len(fids))
		var list [][]any
		err := t.eachRow(d, fids[:n], func(values []any) error { list = append(list, values); return nil })
		if err != nil {
			return err
		}
		if _, err := tx.CopyFrom(ctx, pgx.Identifier{p.schema, t.Name}, t.names(), pgx.CopyFromRows(list)); err != nil {
			return err
		}
		fids = fids[n:]
	}
	return nil
}

// rowsPerCopy bounds the memory: rows with packed lines take some 10 kB.
const rowsPerCopy = 1000

// eachRow reads rows of the file by key, in the types of the database.
func (t *table) eachRow(d *gpkg.Direct, fids []int64, f func(values []any) error) error {
	sql := "SELECT " + t.inFile() + " FROM main." + t.Name + " WHERE fid = ?"
	for _, fid := range fids {
		err := d.Each(sql, d.Args().Add(fid), func(row []driver.Value) error {
			values := make([]any, len(row), len(row)+1)
			for i, v := range row {
				var err error
				if values[i], err = t.columns[i].toDatabase(v); err != nil {
					return inRow(err, "", t.Name, fid)
				}
			}
			return f(values)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// pushKeys keeps the highest keys that the file has given out.
func (p *place) pushKeys(ctx context.Context, tx pgx.Tx, c *gpkg.File, changed []gpkg.ChangedRows) error {
	last, err := gpkg.LastKeys(c)
	if err != nil {
		return err
	}
	var names []string
	var keys []int64
	for i := range changed {
		if len(changed[i].Inserted) > 0 {
			names, keys = append(names, changed[i].Table), append(keys, last[changed[i].Table])
		}
	}
	if len(names) == 0 {
		return nil
	}
	_, err = tx.Exec(ctx, p.filled("SELECT {s}.shared_raise_keys($1, $2)"), names, keys)
	return err
}
