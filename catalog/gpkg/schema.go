package gpkg

import (
	"context"
	"database/sql"
	_ "embed"
	"encoding/json"
	"fmt"
	"sort"
	"strings"

	"gradeline/catalog"
)

// The marks of our files, and the version of the tables.
const (
	formatName    = "gradeline catalogue"
	schemaVersion = 9
	applicationID = 0x47504B47 // "GPKG", OGC 12-128r17 requirement 2
	gpkgVersion   = 10300
	pageBytes     = 2048 // packed rows take 4 to 6 kB: with 4,096 bytes the file is a twelfth larger
)

// coreSQL holds the tables that the standard itself requires.
//
//go:embed core.sql
var coreSQL string

// rtreeSQL is the R-tree of OGC 12-128r17 (1.3) annex F.3 with its triggers
// insert, update1 to update4 and delete, for table %t and column geom.
//
//go:embed rtree.sql
var rtreeSQL string

// byHandSQL logs changes of reviews and sites by other programs in the history, and takes the
// check sum of the changed row out.
//
//go:embed byhand.sql
var byHandSQL string

// createSQL is the statement that makes one of our tables.
func (t *table) createSQL() string {
	var parts []string
	for _, c := range t.columns {
		parts = append(parts, c.name+" "+c.decl)
	}
	parts = append(parts, t.constraints...)
	return "CREATE TABLE " + t.name + " (" + strings.Join(parts, ", ") + ")"
}

// schemaSQL is the statements that make an empty catalogue.
func schemaSQL(at string) []string {
	out := []string{coreSQL}
	for i := range tables {
		out = append(out, tableSQL(&tables[i], at)...)
	}
	out = append(out, byHandSQL)
	var names []string
	for n := range values {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		for _, v := range values[n] {
			out = append(out, fmt.Sprintf("INSERT INTO gpkg_data_column_constraints(constraint_name, constraint_type, value) VALUES (%s, 'enum', %s)", quote(n), quote(v)))
		}
	}
	return out
}

// tableSQL makes one table with its indexes and registers it.
func tableSQL(t *table, at string) []string {
	kind, srs := "attributes", "NULL"
	if t.geometry != "" {
		kind, srs = "features", fmt.Sprint(srsID)
	}
	out := []string{
		t.createSQL(),
		fmt.Sprintf("INSERT INTO gpkg_contents(table_name, data_type, identifier, description, last_change, srs_id) VALUES (%s, %s, %s, %s, %s, %s)",
			quote(t.name), quote(kind), quote(t.identifier), quote(t.about), quote(at), srs),
	}
	for _, ix := range t.indexes {
		out = append(out, "CREATE INDEX "+ix)
	}
	if t.geometry != "" {
		out = append(out,
			fmt.Sprintf("INSERT INTO gpkg_geometry_columns VALUES (%s, 'geom', %s, %d, %d, %d)", quote(t.name), quote(t.geometry), srsID, t.z, t.m),
			fmt.Sprintf("INSERT INTO gpkg_extensions VALUES (%s, 'geom', 'gpkg_rtree_index', 'http://www.geopackage.org/spec120/#extension_rtree', 'write-only')", quote(t.name)),
			strings.ReplaceAll(rtreeSQL, "%t", t.name))
	}
	for _, c := range t.columns {
		if c.title == "" {
			continue
		}
		list, mime := "NULL", "NULL"
		if t.geometry != "" && (c.name == "flags" || c.name == "benches") {
			mime = "'application/json'" // always holds JSON; a GIS may show it as a list
		}
		if c.values != "" {
			list = quote(c.values)
		}
		out = append(out, fmt.Sprintf("INSERT INTO gpkg_data_columns(table_name, column_name, name, title, mime_type, constraint_name) VALUES (%s, %s, %s, %s, %s, %s)",
			quote(t.name), quote(c.name), quote(c.title), quote(c.title), mime, list)) // desktop GIS show the name as the column's alias
	}
	return out
}

func quote(s string) string { return "'" + strings.ReplaceAll(s, "'", "''") + "'" }

// writeSchema fills an empty database in one transaction.
func writeSchema(ctx context.Context, db *sql.DB, tool, at string) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	stmts := append([]string{
		fmt.Sprintf("PRAGMA page_size = %d", pageBytes),
		fmt.Sprintf("PRAGMA application_id = %d", applicationID),
		fmt.Sprintf("PRAGMA user_version = %d", gpkgVersion),
		"BEGIN IMMEDIATE",
	}, schemaSQL(at)...)
	stmts = append(stmts,
		fmt.Sprintf("INSERT INTO catalogue(format, schema_version, made_by, made_at) VALUES (%s, %d, %s, %s)", quote(formatName), schemaVersion, quote(tool), quote(at)),
		fmt.Sprintf("INSERT INTO gpkg_metadata(id, md_scope, md_standard_uri, mime_type, metadata) VALUES (1, 'dataset', 'urn:gradeline:provenance:1', 'application/json', %s)", quote(metadata(tool, nil))),
		fmt.Sprintf("INSERT INTO gpkg_metadata_reference(reference_scope, timestamp, md_file_id) VALUES ('geopackage', %s, 1)", quote(at)),
		"COMMIT")
	for _, s := range stmts {
		if _, err := conn.ExecContext(ctx, s); err != nil {
			return err
		}
	}
	return nil
}

// metadata describes the file for any GIS.
func metadata(tool string, last *catalog.Provenance) string {
	b, err := json.Marshal(struct {
		Schema   string              `json:"schema"`
		What     string              `json:"what"`
		Tool     string              `json:"tool"`
		Cautions []string            `json:"cautions"`
		Last     *catalog.Provenance `json:"last_survey"`
	}{catalog.Schema, "Sustained downgrades with retarder advice by weight class", tool, catalog.Cautions(), last})
	if err != nil {
		return "{}" // a checked provenance always marshals
	}
	return string(b)
}
