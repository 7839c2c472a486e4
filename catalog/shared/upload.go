package shared

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// Upload makes a catalogue in a database that has none, with every row of a file, in one transaction.
func Upload(ctx context.Context, address, file, tool string) (err error) {
	p, err := parse(address)
	if err != nil {
		return err
	}
	c, err := gpkg.Open(ctx, file, gpkg.Options{Tool: tool}) // brings an older file up to date
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, c.Close()) }()
	conn, err := p.connect(ctx)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return c.Read(ctx, func(q gpkg.Querier) error {
		return p.create(ctx, conn, tool, func(tx pgx.Tx) error { return p.uploadRows(ctx, tx, q) })
	})
}

func (p *place) uploadRows(ctx context.Context, tx pgx.Tx, q gpkg.Querier) error {
	for i := range tables {
		t := &tables[i]
		var fids []int64
		if err := gpkg.Keys(q, &fids, "SELECT fid FROM main."+t.Name+" ORDER BY fid"); err != nil {
			return err
		}
		if err := p.insertRows(ctx, tx, q.Direct(), t, fids); err != nil {
			return err
		}
	}
	keys, err := gpkg.LastKeys(q)
	if err != nil {
		return err
	}
	var names []string
	var last []int64
	for name, key := range keys {
		if tableNamed(name) != nil {
			names, last = append(names, name), append(last, key)
		}
	}
	_, err = tx.Exec(ctx, p.filled("SELECT {s}.shared_raise_keys($1, $2)"), names, last)
	return err
}

// existsAlready is the fault of a database with a catalogue, in place of which nothing is written.
func (p *place) existsAlready() error {
	return &Fault{Kind: errWrite, File: p.name, What: "has a catalogue already", Fix: "merge into it (gradeline merge), or add ?schema=NAME to the address for another one"}
}

// firstRows fills the table catalogue of an empty catalogue.
func (p *place) firstRows(ctx context.Context, tx pgx.Tx, tool string) error {
	_, err := tx.Exec(ctx, p.filled("INSERT INTO {s}.catalogue(fid, format, schema_version, made_by, made_at) VALUES (1, $1, $2, $3, date_trunc('milliseconds', now()))"), formatName, gpkg.TablesVersion, tool)
	return err
}

// noPostGIS is the fault of a database without the types of geometries.
func (p *place) noPostGIS() error {
	return &Fault{Kind: catalog.ErrNotOurs, File: p.name, What: "the database has no PostGIS", Fix: "let its administrator run CREATE EXTENSION postgis"}
}
