package shared

import (
	"context"
	"database/sql/driver"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"

	"gradeline/catalog/gpkg"
)

// rowSteps are the statements that a version of the tables needs beyond new tables, columns and
// indexes, which follow from their description; by the version before.
var rowSteps = map[int][]string{
	8: {"DROP INDEX IF EXISTS {s}.holds_class"},
}

// migrate brings an older catalogue up to date, in one transaction under the lock; its owner only.
func (s *session) migrate(ctx context.Context, conn *pgx.Conn) error {
	return s.transaction(ctx, conn, "bringing the tables up to date", func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, lockSQL, s.schema); err != nil {
			return err
		}
		now, err := s.read(ctx, tx)
		if err != nil || now.version >= gpkg.TablesVersion { // another program was faster
			return err
		}
		var isOwner bool
		if err := tx.QueryRow(ctx, "SELECT pg_has_role(nspowner, 'USAGE') FROM pg_namespace WHERE nspname = $1", s.schema).Scan(&isOwner); err != nil {
			return err
		}
		if !isOwner {
			return s.older(now.version)
		}
		return s.migrateFrom(ctx, tx, now.version)
	})
}

func (s *session) migrateFrom(ctx context.Context, tx pgx.Tx, version int) error {
	if _, err := tx.Exec(ctx, s.filled("SELECT {s}.shared_number(gen_random_uuid(), $1)"), toolName(s.o.Tool)); err != nil {
		return err
	}
	for i := range tables {
		if err := s.migrateTable(ctx, tx, &tables[i]); err != nil {
			return err
		}
	}
	for v := version; v < gpkg.TablesVersion; v++ {
		for _, sql := range rowSteps[v] {
			if _, err := tx.Exec(ctx, s.filled(sql)); err != nil {
				return err
			}
		}
	}
	at := time.Now().UTC().Truncate(time.Millisecond)
	if s.o.Now != nil {
		at = s.o.Now().UTC().Truncate(time.Millisecond)
	}
	words := fmt.Sprintf("tables from version %d to %d", version, gpkg.TablesVersion)
	seal := gpkg.Seal([]driver.Value{"migrated", gpkg.Stamp(at), "", "", "", words}, "") // as gpkg.LogHistory
	for _, step := range []struct {
		sql  string
		args []any
	}{
		{"INSERT INTO {s}.history(at, what, words, seal) VALUES ($1, 'migrated', $2, $3)", []any{at, words, seal}},
		{"UPDATE {s}.catalogue SET schema_version = $1, migrated_at = $2", []any{gpkg.TablesVersion, at}},
		{"UPDATE {s}.shared_state SET version = $1", []any{gpkg.TablesVersion}},
	} {
		if _, err := tx.Exec(ctx, s.filled(step.sql), step.args...); err != nil {
			return err
		}
	}
	return nil
}

// migrateTable makes a table, or adds the columns and indexes that an older one lacks.
func (s *session) migrateTable(ctx context.Context, tx pgx.Tx, t *table) error {
	rows, err := tx.Query(ctx, "SELECT column_name::text FROM information_schema.columns WHERE table_schema = $1 AND table_name = $2", s.schema, t.Name)
	if err != nil {
		return err
	}
	have, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	var steps []string
	if len(have) == 0 {
		steps = t.createSQL()
	}
	for i := range t.columns {
		c := &t.columns[i]
		if len(have) == 0 || slices.Contains(have, c.Name) {
			continue
		}
		steps = append(steps, "ALTER TABLE {s}."+t.Name+" ADD COLUMN "+t.columnSQL(c), "COMMENT ON COLUMN {s}."+t.Name+"."+quoted(c.Name)+" IS "+literal(c.Title))
	}
	for _, ix := range t.Indexes {
		if name, columns, _ := strings.Cut(ix, " ON "); len(have) > 0 {
			steps = append(steps, "CREATE INDEX IF NOT EXISTS "+name+" ON {s}."+columns)
		}
	}
	for _, sql := range steps {
		if _, err := tx.Exec(ctx, s.filled(sql)); err != nil {
			return err
		}
	}
	return nil
}
