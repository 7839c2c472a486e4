package shared

import (
	"context"
	"errors"
	"fmt"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
)

// formatName marks the schema as a catalogue.
const formatName = "gradeline catalogue"

// state is what a catalogue says of itself.
type state struct {
	id      string
	version int
	number  int64  // of the last change
	change  string // its id
}

// queries are what both a connection and a transaction do.
type queries interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// find reads the schema that PostGIS is in, and whether there is a catalogue.
func (p *place) find(ctx context.Context, q queries) (isThere bool, err error) {
	err = q.QueryRow(ctx, "SELECT coalesce((SELECT n.nspname FROM pg_extension e JOIN pg_namespace n ON n.oid = e.extnamespace WHERE e.extname = 'postgis'), ''), "+
		"EXISTS (SELECT FROM pg_namespace WHERE nspname = $1)", p.schema).Scan(&p.gis, &isThere)
	return isThere, p.fault(err, "connecting")
}

// read reads the state; ErrNotOurs for a schema of something else, ErrNewer for a newer catalogue.
func (p *place) read(ctx context.Context, q queries) (s state, err error) {
	var format string
	err = q.QueryRow(ctx, p.filled("SELECT s.format, s.version, s.id::text, s.number, coalesce(c.id::text, '') FROM {s}.shared_state s LEFT JOIN {s}.shared_changes c ON c.number = s.number")).
		Scan(&format, &s.version, &s.id, &s.number, &s.change)
	var pg *pgconn.PgError
	switch {
	case errors.As(err, &pg) && (pg.Code == "42P01" || pg.Code == "42703"), errors.Is(err, pgx.ErrNoRows), err == nil && format != formatName:
		return s, &Fault{Kind: catalog.ErrNotOurs, File: p.name, What: "the schema " + p.schema + " is not a gradeline catalogue", Fix: "add ?schema=NAME to the address; nothing was changed"}
	case err != nil:
		return s, p.fault(err, "reading")
	case s.version > gpkg.TablesVersion:
		return s, &Fault{Kind: catalog.ErrNewer, File: p.name, What: fmt.Sprintf("brought up to date by a newer version (tables %d, this program knows %d)", s.version, gpkg.TablesVersion), Fix: "update this program; nothing was changed"}
	}
	return s, nil
}

// notFound is the fault of a database without a catalogue.
func (p *place) notFound() error {
	return &Fault{Kind: catalog.ErrNotFound, File: p.name, What: "no catalogue in this database (schema " + p.schema + ")", Fix: "create it with a survey, or copy one into it with gradeline list -o"}
}

// Exists reports whether there is a catalogue at an address.
func Exists(ctx context.Context, address string) (bool, error) {
	p, err := parse(address)
	if err != nil {
		return false, err
	}
	conn, err := p.connect(ctx)
	if err != nil {
		return false, err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return p.find(ctx, conn)
}

// CheckEmpty fails where there is a catalogue at an address, or where none could be made.
func CheckEmpty(ctx context.Context, address string) error {
	p, err := parse(address)
	if err != nil {
		return err
	}
	conn, err := p.connect(ctx)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return p.checkRoom(ctx, conn)
}

// checkRoom fails where the schema holds a catalogue already, or the database has no PostGIS.
func (p *place) checkRoom(ctx context.Context, q queries) error {
	isThere, err := p.find(ctx, q)
	switch {
	case err != nil:
		return err
	case isThere:
		if _, err := p.read(ctx, q); errors.Is(err, catalog.ErrNotOurs) {
			return err
		}
		return p.existsAlready()
	case p.gis == "":
		return p.noPostGIS()
	}
	return nil
}

// create makes a catalogue, in one transaction; f writes its first rows. It fails with existsAlready
// where another program was faster.
func (p *place) create(ctx context.Context, conn *pgx.Conn, tool string, f func(tx pgx.Tx) error) error {
	return p.transaction(ctx, conn, "making the catalogue", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, lockSQL, p.schema); err != nil {
			return err
		}
		if err := p.checkRoom(ctx, tx); err != nil {
			return err
		}
		for _, sql := range schemaSQL() {
			if _, err := tx.Exec(ctx, p.filled(sql)); err != nil {
				return p.makingFault(err)
			}
		}
		if _, err := tx.Exec(ctx, p.filled("INSERT INTO {s}.shared_state(format, version, id) VALUES ($1, $2, gen_random_uuid())"), formatName, gpkg.TablesVersion); err != nil {
			return err
		}
		if _, err := tx.Exec(ctx, p.filled("SELECT {s}.shared_number(gen_random_uuid(), $1)"), toolName(tool)); err != nil {
			return err
		}
		return f(tx)
	})
}

// makingFault says who may make a catalogue, where this role may not.
func (p *place) makingFault(err error) error {
	var pg *pgconn.PgError
	if errors.As(err, &pg) && pg.Code == "42501" {
		return &Fault{Kind: errWrite, File: p.name, What: "there is no catalogue in this database (schema " + p.schema + "), and " + quoteUser(p.config.User) + " may not make one: " + pg.Message,
			Fix: "let somebody make it who may create schemas there (GRANT CREATE ON DATABASE), as with gradeline list --everything -o; nothing was stored"}
	}
	return err
}

// Make makes an empty catalogue at an address that has none, and returns the id of the one that is
// there then.
func Make(ctx context.Context, address, tool string) (id string, err error) {
	p, err := parse(address)
	if err != nil {
		return "", err
	}
	s := &session{place: p, o: gpkg.Options{Create: true, Tool: tool}}
	if _, err = s.prepare(ctx); err == nil {
		id, err = s.idOver(ctx, s.conn)
	}
	return id, errors.Join(err, s.Close())
}

// IDOf is the id of the catalogue at an address.
func IDOf(ctx context.Context, address string) (string, error) {
	p, err := parse(address)
	if err != nil {
		return "", err
	}
	conn, err := p.connect(ctx)
	if err != nil {
		return "", err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	return p.idOver(ctx, conn)
}

func (p *place) idOver(ctx context.Context, q queries) (string, error) {
	isThere, err := p.find(ctx, q)
	if err == nil && !isThere {
		err = p.notFound()
	}
	if err != nil {
		return "", err
	}
	s, err := p.read(ctx, q)
	return s.id, err
}

// lockSQL waits for the turn to change a catalogue, until the transaction ends.
const lockSQL = "SELECT pg_advisory_xact_lock(hashtext('gradeline'), hashtext($1))"

// transaction runs f in a transaction of its own.
func (p *place) transaction(ctx context.Context, conn *pgx.Conn, doing string, f func(tx pgx.Tx) error) error {
	tx, err := conn.Begin(ctx)
	if err == nil {
		if err = f(tx); err == nil {
			err = tx.Commit(ctx)
		} else {
			_ = tx.Rollback(context.WithoutCancel(ctx)) // the fault of f is what counts
		}
	}
	return p.fault(err, doing)
}

// toolName names the program in the list of changes; a change by hand has no name.
func toolName(tool string) string {
	if tool == "" {
		return "gradeline"
	}
	return tool
}
