package store

import (
	"fmt"
	"os/exec"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog/gpkg"
	"gradeline/catalog/shared/testserver"
)

// Every layer goes by one ogr2ogr into a running PostgreSQL with PostGIS, with all its rows: lines
// and points are geometries with SRID 4326 that PostGIS itself calls valid and measures as long as
// the roads are, lists are of type json, truth values boolean. Source: PostgreSQL 15 and PostGIS
// 3.3, as Debian 12 packages them, status: reference program.
func TestEveryLayerGoesIntoPostGIS(t *testing.T) {
	if testing.Short() {
		t.Skip("some seconds")
	}
	db := testserver.New(t)
	ask := func(sql string) string { return db.Ask(t, sql) }
	c, path := fresh(t)
	fillEveryTable(t, c)
	rows := map[string]int{}
	roadM := 0.0
	err := c.file.Read(ctx, func(q gpkg.Querier) error {
		for _, layer := range gpkg.TableNames() {
			var n int
			if _, err := gpkg.First(q, []any{&n}, "SELECT count(*) FROM "+layer); err != nil {
				return err
			}
			rows[layer] = n
		}
		_, err := gpkg.First(q, []any{&roadM}, "SELECT sum(length_m) FROM steep_parts")
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	c.Close()
	if out, err := exec.Command("ogr2ogr", "-f", "PostgreSQL", toOGR(db), path).CombinedOutput(); err != nil || strings.Contains(string(out), "ERROR") {
		t.Errorf("%v: %s", err, out)
	}
	for layer, n := range rows {
		if got := ask("SELECT count(*) FROM " + layer); got != strconv.Itoa(n) {
			t.Errorf("%s: %s rows of %d", layer, got, n)
		}
	}
	if got := ask("SELECT f_table_name || ' ' || type || ' ' || srid || ' ' || coord_dimension FROM geometry_columns ORDER BY 1"); got != "descents LINESTRING 4326 4\nsites POINT 4326 2\nsteep_parts LINESTRING 4326 4" {
		t.Errorf("geometries: %s", got)
	}
	if got := ask("SELECT bool_and(ST_IsValid(geom)) FROM (SELECT geom FROM descents UNION ALL SELECT geom FROM sites UNION ALL SELECT geom FROM steep_parts) g"); got != "t" {
		t.Errorf("valid: %s", got)
	}
	if got := ask("SELECT pg_typeof(flags), pg_typeof(benches) FROM descents LIMIT 1") + ask("SELECT pg_typeof(holds) FROM holds LIMIT 1"); got != "json|jsonboolean" {
		t.Errorf("types: %s", got)
	}
	// The station of the last vertex less that of the first is the length of the part.
	if got := ask("SELECT round(sum(ST_M(ST_EndPoint(geom)) - ST_M(ST_StartPoint(geom)))) FROM steep_parts"); got != fmt.Sprintf("%.0f", roadM) {
		t.Errorf("stations: %s m, want %.0f", got, roadM)
	}
	if got := ask("SELECT ST_AsText(geom, 4) FROM sites"); got != "POINT(-110 40)" {
		t.Errorf("site: %s", got)
	}
}

// toOGR names a database to OGR.
func toOGR(db *testserver.Database) string {
	return fmt.Sprintf("PG:host=%s port=%d dbname=%s user=%s", db.Host(), db.Port(), db.Name, testserver.Owner)
}

// A general program opens the tables of a catalogue in a database as layers, with their keys, types,
// geometries, reference system and rows. Source: OGR of GDAL 3.6, as Debian 12 packages it, status:
// reference program.
func TestOGROpensASharedCatalogue(t *testing.T) {
	c, db := freshShared(t)
	fillEveryTable(t, c)
	info := func(layer string) string {
		out, err := exec.Command("ogrinfo", "-so", toOGR(db), "gradeline."+layer).CombinedOutput()
		if err != nil {
			t.Fatalf("ogrinfo: %v: %s", err, out)
		}
		return string(out)
	}
	for layer, want := range map[string][]string{
		"descents":    {"Geometry: 3D Measured Line String", "Feature Count: 2", "ID[\"EPSG\",4326]", "FID Column = fid", "Geometry Column NOT NULL = geom", "id: String (0.0)", "start_m: Real (0.0) NOT NULL", "benches: String(JSON) (0.0) NOT NULL DEFAULT '[]'::json", "gone_since: DateTime", "route_fid: Integer64"},
		"steep_parts": {"Geometry: 3D Measured Line String", "Feature Count: 1", "FID Column = fid"},
		"sites":       {"Geometry: Point", "Feature Count: 1", "ID[\"EPSG\",4326]", "station_m: Real"},
		"holds":       {"Geometry: None", "FID Column = fid", "holds: Integer(Boolean) (1.0) NOT NULL", "class: String"},
		"reviews":     {"Geometry: None", "Feature Count: 2", "reviewed_at: DateTime"},
		"history":     {"FID Column = fid", "at: DateTime (0.0) NOT NULL"},
	} {
		out := info(layer)
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("%s lacks %q:\n%s", layer, w, out)
			}
		}
	}
	if got := db.Ask(t, "SELECT f_table_name || ' ' || type || ' ' || srid || ' ' || coord_dimension FROM geometry_columns WHERE f_table_schema = 'gradeline' ORDER BY 1"); got != "descents LINESTRING 4326 4\nsites POINT 4326 2\nsteep_parts LINESTRING 4326 4" {
		t.Errorf("geometries: %s", got)
	}
	if got := db.Ask(t, "SELECT bool_and(ST_IsValid(geom)) FROM (SELECT geom FROM gradeline.descents UNION ALL SELECT geom FROM gradeline.sites UNION ALL SELECT geom FROM gradeline.steep_parts) g"); got != "t" {
		t.Errorf("valid: %s", got)
	}
	// Keys as the GeoPackage has them, and a title with a unit at each column.
	if got := db.Ask(t, "SELECT count(*) FROM pg_constraint WHERE connamespace = 'gradeline'::regnamespace AND contype = 'f'"); got != "13" {
		t.Errorf("%s references", got)
	}
	if got := db.Ask(t, "SELECT col_description('gradeline.descents'::regclass, attnum) FROM pg_attribute WHERE attrelid = 'gradeline.descents'::regclass AND attname = 'drop_m'"); got != "Drop (m)" {
		t.Errorf("title: %q", got)
	}
}
