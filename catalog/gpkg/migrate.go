package gpkg

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"strings"

	sqlite3 "github.com/mattn/go-sqlite3"

	"gradeline/catalog"
)

// migration changes the tables from version from to from+1.
type migration struct {
	from int
	what string
	sql  []string
}

// migrations are in order; a catalogue at the current version needs none. A step that changes rows or
// drops something needs its counterpart in rowSteps of package shared.
var migrations = []migration{
	{from: 1, what: "columns of JSON always hold JSON; figures have check sums", sql: jsonAndSeals()},
	{from: 2, what: "tables for the road network", sql: newTables("network_sources", "network_roads")},
	{from: 3, what: "a table for what a search of the road network needs", sql: newTables("network_parts")},
	{from: 4, what: "details of advice and lines are packed", sql: packedDetails()},
	{from: 5, what: "steep parts of roads outside descents", sql: steepParts()},
	{from: 6, what: "roads, provenance, classes, reviews, waiting surveys, history and sites have check sums", sql: rowSums()},
	{from: 7, what: "a table for recorded drives", sql: newTables("drives")},
	{from: 8, what: "holds are found by their descent alone", sql: []string{"DROP INDEX IF EXISTS holds_class"}},
}

// newTables creates tables that a version adds.
func newTables(names ...string) []string {
	out := []string{}
	for _, n := range names {
		out = append(out, tableSQL(tableNamed(n), "1970-01-01T00:00:00.000Z")...)
	}
	return out
}

// packedDetails changes version 4 to version 5. The rows stay unchanged, with their
// details in JSON; the new columns of a hold repeat details for a GIS. SQLite reads a
// column that a row lacks as NULL (sqlite.org/fileformat2.html section 2.1).
func packedDetails() []string {
	out := redefined("descents", "holds")
	out = append(out, "UPDATE holds SET gear_name = json_extract(more, '$.gear_name'), surfaces_excluded = json_extract(more, '$.surfaces_excluded') WHERE json_valid(more)")
	for _, k := range [][2]string{{"descents", "line"}, {"holds", "gear_name"}, {"holds", "surfaces_excluded"}, {"holds", "class_figures"}} {
		title := quote(tableNamed(k[0]).column(k[1]).title)
		out = append(out, "INSERT INTO gpkg_data_columns(table_name, column_name, name, title) VALUES ("+quote(k[0])+", "+quote(k[1])+", "+title+", "+title+")")
	}
	return append(out, newTables("advice", "texts")...)
}

// steepParts changes version 5 to version 6. The steep parts of the roads are unknown until they
// are surveyed again.
func steepParts() []string {
	title := quote(tableNamed("routes").column("possible_steep_m").title)
	out := append(redefined("routes"), "INSERT INTO gpkg_data_columns(table_name, column_name, name, title) VALUES ('routes', 'possible_steep_m', "+title+", "+title+")")
	return append(out, newTables("steep_parts")...)
}

// rowSums changes version 6 to version 7. The rows get their check sums after it.
func rowSums() []string {
	names := SealedTables()
	out := redefined(names...)
	for _, t := range names {
		for _, c := range tableNamed(t).columns {
			if c.name == "seal" || c.name == "parts_seal" {
				out = append(out, "INSERT INTO gpkg_data_columns(table_name, column_name, name, title) VALUES ("+quote(t)+", "+quote(c.name)+", "+quote(c.title)+", "+quote(c.title)+")")
			}
		}
	}
	for _, trigger := range strings.Split(strings.TrimSpace(byHandSQL), "\n") {
		out = append(out, "DROP TRIGGER IF EXISTS "+strings.Fields(trigger)[2], trigger)
	}
	return out
}

// redefined gives tables their current definition, where SQLite keeps it.
func redefined(names ...string) []string {
	out := []string{"PRAGMA writable_schema = ON"}
	for _, t := range names {
		out = append(out, "UPDATE sqlite_master SET sql = "+quote(tableNamed(t).createSQL())+" WHERE type = 'table' AND name = "+quote(t))
	}
	return append(out, "PRAGMA writable_schema = RESET")
}

// jsonAndSeals changes version 1 to version 2. A default is changed in SQLite's own
// schema table, which its documentation allows for changes that do not affect the rows
// (sqlite.org/lang_altertable.html, "Making Other Kinds Of Table Schema Changes"). Rows
// of version 1 stay without a seal.
func jsonAndSeals() []string {
	out := []string{"UPDATE catalogue SET by_program = 1"}
	for _, t := range []string{"descents", "holds"} {
		out = append(out, "ALTER TABLE "+t+" ADD COLUMN seal INTEGER",
			"INSERT INTO gpkg_data_columns(table_name, column_name, name, title) VALUES ("+quote(t)+", 'seal', 'Check sum of the figures', 'Check sum of the figures')")
	}
	out = append(out, redefined("classes", "descents", "holds", "proposals")...)
	for table, columns := range map[string][]string{"classes": {"definition"}, "descents": {"more"}, "holds": {"more"}, "proposals": {"entry", "class_fids"}} {
		for _, c := range columns {
			out = append(out, "UPDATE "+table+" SET "+c+" = '{}' WHERE "+c+" = ''")
		}
	}
	return append(out, "UPDATE descents SET benches = '[]' WHERE benches = ''", "UPDATE descents SET flags = '[]' WHERE flags = ''", "UPDATE catalogue SET by_program = 0")
}

// oldestSchema is the oldest version that can be brought up to date.
var oldestSchema = 1

// identify says which version of our tables the file holds.
func (c *File) identify(ctx context.Context) (version int, err error) {
	var app int64
	if err := c.rdb.QueryRowContext(ctx, "PRAGMA application_id").Scan(&app); err != nil {
		return 0, c.Fault(err, "opening")
	}
	what := "an SQLite file, but not a gradeline catalogue"
	if app == applicationID {
		what = "a GeoPackage, but not a gradeline catalogue"
	}
	notOurs := &Fault{Kind: catalog.ErrNotOurs, File: c.path, What: what, Fix: "name a catalogue made by a survey; nothing was changed"}
	var definition string // a view of that name could run for ever
	err = c.rdb.QueryRowContext(ctx, "SELECT coalesce(sql, '') FROM sqlite_master WHERE type = 'table' AND name = 'catalogue'").Scan(&definition)
	switch {
	case errors.Is(err, sql.ErrNoRows), err == nil && app != applicationID:
		return 0, notOurs
	case err != nil:
		return 0, c.Fault(err, "opening")
	}
	version, isOurs, err := c.version(ctx, definition)
	if err != nil {
		return 0, err
	}
	if isOurs && version > schemaVersion {
		return 0, &Fault{Kind: catalog.ErrNewer, File: c.path, What: fmt.Sprintf("made by a newer version (tables %d, this program knows %d)", version, schemaVersion), Fix: "update this program; nothing was changed"}
	}
	if err := c.checkSchema(ctx, c.rdb.QueryContext, "main"); err != nil {
		return 0, err
	}
	if len(c.refused) > 0 {
		return schemaVersion, nil // for doctor: it is read as plain rows only
	}
	if !isOurs || version < oldestSchema {
		return 0, notOurs
	}
	return version, nil
}

// version reads the file's own version, if its definition is plain enough.
func (c *File) version(ctx context.Context, definition string) (version int, isOurs bool, err error) {
	if tokens := sqlTokens(definition); len(tokens) < 4 || tableRefusal(&schemaRow{kind: "table", name: "catalogue", sql: definition}, tokens) != "" {
		return 0, false, nil
	}
	var format string
	err = c.rdb.QueryRowContext(ctx, "SELECT format, schema_version FROM catalogue NOT INDEXED").Scan(&format, &version)
	var se sqlite3.Error
	if errors.As(err, &se) && se.Code != sqlite3.ErrError {
		return 0, false, c.Fault(err, "opening")
	}
	return version, err == nil && format == formatName, nil
}

// migrate updates an older file: first it keeps a copy in the same folder, then all steps are one
// transaction.
func (c *File) migrate(ctx context.Context, version int) error {
	if version >= schemaVersion {
		return nil
	}
	backup, err := c.backup(ctx, version)
	if err != nil {
		return err
	}
	err = c.changeSchema(ctx, func() error {
		for v := version; v < schemaVersion; v++ {
			m := migrationFrom(v)
			if m == nil {
				return &Fault{Kind: catalog.ErrNotOurs, File: c.path, What: fmt.Sprintf("tables of version %d are not known", v), Fix: "restore the last copy"}
			}
			for _, s := range m.sql {
				if _, err := c.w.ExecContext(ctx, s); err != nil {
					return err
				}
			}
			if err := c.LogHistory("migrated", "", "", "", fmt.Sprintf("tables from version %d to %d: %s; copy kept in %s", v, v+1, m.what, backup)); err != nil {
				return err
			}
		}
		if version < rowSumsVersion {
			if err := c.SealAllRows(); err != nil {
				return err
			}
		}
		_, err := c.Exec("UPDATE catalogue SET schema_version = ?, migrated_at = ?", schemaVersion, c.NowStamp())
		if err == nil {
			c.schemaVersion = schemaVersion
		}
		return err
	})
	return err
}

func migrationFrom(v int) *migration {
	for i := range migrations {
		if migrations[i].from == v {
			return &migrations[i]
		}
	}
	return nil
}

// backup keeps a copy in the file's folder, named by its version, never over another file.
func (c *File) backup(ctx context.Context, version int) (string, error) {
	for i := 0; i < 1000; i++ {
		name := fmt.Sprintf("%s.kept-%d.gpkg", strings.TrimSuffix(c.path, ".gpkg"), version)
		if i > 0 {
			name = fmt.Sprintf("%s.kept-%d-%d.gpkg", strings.TrimSuffix(c.path, ".gpkg"), version, i)
		}
		if _, err := os.Stat(name); err == nil {
			continue
		}
		return name, c.CopyTo(ctx, name)
	}
	return "", &Fault{Kind: ErrWrite, File: c.path, What: "its folder already holds a thousand copies", Fix: "remove old copies"}
}

// CopyTo writes a complete copy of the catalogue to a new file.
func (c *File) CopyTo(ctx context.Context, path string) error {
	if _, err := os.Stat(path); err == nil {
		return &Fault{Kind: ErrWrite, File: path, What: "exists already", Fix: "name a new file for the copy"}
	}
	tmp := path + ".tmp"
	if err := os.Remove(tmp); err != nil && !errors.Is(err, os.ErrNotExist) {
		return &Fault{Kind: ErrWrite, File: path, What: "cannot write the copy", Err: err}
	}
	defer os.Remove(tmp)
	if err := c.vacuumInto(ctx, tmp); err != nil {
		return faultOf(path, err, "copying the catalogue")
	}
	if c.IsCopy() {
		if err := makeOrdinary(ctx, tmp); err != nil {
			return err
		}
	}
	f, err := os.OpenFile(tmp, os.O_RDWR, 0)
	if err == nil {
		err = errors.Join(f.Sync(), f.Close())
	}
	if err == nil {
		err = os.Rename(tmp, path)
	}
	if err != nil {
		return &Fault{Kind: ErrWrite, File: path, What: "cannot write the copy", Err: err, Fix: "check the folder and its free space"}
	}
	return nil
}

// vacuumInto copies through its own connection: connections for reading may not.
func (c *File) vacuumInto(ctx context.Context, path string) error {
	dsn, err := c.dsn(c.path, c.readMode())
	if err != nil {
		return err
	}
	db, err := sql.Open(writeDriver, dsn)
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, "VACUUM INTO ?", path)
	return errors.Join(err, db.Close())
}

// readMode is how the file is opened for reading.
func (c *File) readMode() string {
	if c.found != nil {
		return "ro&immutable=1"
	}
	return "ro"
}
