package gpkg

import (
	"bytes"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// asVersion8 gives a file the index of holds by class.
func asVersion8(t testing.TB, path string) {
	t.Helper()
	spoil(t, path, v8SQL, "UPDATE catalogue SET schema_version = 8")
}

// asVersion7 takes the recorded drives from a file, too.
func asVersion7(t testing.TB, path string) {
	t.Helper()
	asVersion8(t, path)
	spoil(t, path, "DROP TABLE drives", "DELETE FROM gpkg_contents WHERE table_name = 'drives'", "DELETE FROM gpkg_data_columns WHERE table_name = 'drives'", "UPDATE catalogue SET schema_version = 7")
}

// asVersion6 takes the check sums of small rows from a file, too.
func asVersion6(t testing.TB, path string) {
	t.Helper()
	asVersion7(t, path)
	script := []string{"ALTER TABLE routes DROP COLUMN parts_seal"}
	for _, line := range strings.Split(strings.TrimSpace(byHandSQL), "\n") {
		script = append([]string{"DROP TRIGGER " + strings.Fields(line)[2]}, script...)
	}
	for _, name := range SealedTables() {
		script = append(script, "ALTER TABLE "+name+" DROP COLUMN seal", "DELETE FROM gpkg_data_columns WHERE table_name = "+quote(name)+" AND column_name IN ('seal', 'parts_seal')")
	}
	script = append(script, definedAs(v6SQL))
	for _, line := range strings.Split(v6SQL, "\n") {
		if strings.HasPrefix(line, "CREATE TRIGGER") {
			script = append(script, line)
		}
	}
	spoil(t, path, append(script, strings.Split(byHandSQL, "\n")[2], "UPDATE catalogue SET schema_version = 6")...)
}

// asVersion5 takes the steep parts of roads from a file, too.
func asVersion5(t testing.TB, path string) {
	t.Helper()
	asVersion6(t, path)
	spoil(t, path, "DROP TABLE rtree_steep_parts_geom", "DROP TABLE steep_parts", "DELETE FROM gpkg_contents WHERE table_name = 'steep_parts'", "DELETE FROM gpkg_geometry_columns WHERE table_name = 'steep_parts'",
		"DELETE FROM gpkg_extensions WHERE table_name = 'steep_parts'", "DELETE FROM gpkg_data_columns WHERE table_name = 'steep_parts' OR column_name = 'possible_steep_m'",
		"ALTER TABLE routes DROP COLUMN possible_steep_m", definedAs(v5SQL), "UPDATE catalogue SET schema_version = 5")
}

// asVersion4 takes the tables and columns of packed details from a file.
func asVersion4(t testing.TB, path string) {
	t.Helper()
	asVersion5(t, path)
	spoil(t, path, "DROP TABLE advice", "DROP TABLE texts", "DELETE FROM gpkg_contents WHERE table_name IN ('advice', 'texts')", "DELETE FROM gpkg_data_columns WHERE table_name IN ('advice', 'texts')",
		"ALTER TABLE descents DROP COLUMN line", "ALTER TABLE holds DROP COLUMN gear_name", "ALTER TABLE holds DROP COLUMN surfaces_excluded", "ALTER TABLE holds DROP COLUMN class_figures",
		"DELETE FROM gpkg_data_columns WHERE column_name IN ('line', 'gear_name', 'surfaces_excluded', 'class_figures')", definedAs(v4SQL), "UPDATE catalogue SET schema_version = 4")
}

// definedAs gives tables the definitions of a script.
func definedAs(definitions string) string {
	script := "PRAGMA writable_schema = ON;"
	for _, line := range strings.Split(strings.TrimSpace(definitions), "\n") {
		definition := strings.TrimSuffix(line, ";")
		script += "UPDATE sqlite_master SET sql = " + quote(definition) + " WHERE type = 'table' AND name = " + quote(sqlTokens(definition)[2]) + ";"
	}
	return script + "PRAGMA writable_schema = RESET"
}

// asVersion2 takes the tables of the network from a file, too.
func asVersion2(t testing.TB, path string) {
	t.Helper()
	asVersion4(t, path)
	spoil(t, path, "DROP TABLE network_parts", "DROP TABLE network_roads", "DROP TABLE network_sources", "DELETE FROM gpkg_contents WHERE table_name LIKE 'network%'",
		"DELETE FROM gpkg_data_columns WHERE table_name LIKE 'network%'", "UPDATE catalogue SET schema_version = 2")
}

// asVersion1 gives a file the tables of version 1.
func asVersion1(t testing.TB, path string) {
	t.Helper()
	asVersion2(t, path)
	spoil(t, path, "ALTER TABLE descents DROP COLUMN seal", "ALTER TABLE holds DROP COLUMN seal", "DELETE FROM gpkg_data_columns WHERE column_name = 'seal'",
		definedAs(v1SQL), "UPDATE catalogue SET schema_version = 1", "UPDATE holds SET more = ''")
}

// An older file is copied before it is brought up to date, and a step that fails
// leaves it as it was; what it then holds is what a new file holds.
func TestMigration(t *testing.T) {
	old := withRows(t)
	asVersion1(t, old)
	r, err := Open(ctx, old, Options{ReadOnly: true})
	if err != nil || r.HasSeals() {
		t.Fatalf("reading an older file: %v", err)
	}
	r.Close()
	before, _ := os.ReadFile(old)
	defer func(m []migration) { migrations = m }(migrations)
	good := migrations
	migrations = []migration{{1, "broken", append(slices.Clone(good[0].sql), "no SQL at all")}, good[1], good[2], good[3], good[4], good[5], good[6], good[7]}
	if _, err := Open(ctx, old, Options{Now: clock}); err == nil {
		t.Fatal("a broken migration passed")
	}
	if after, _ := os.ReadFile(old); !bytes.Equal(before, after) {
		t.Error("a broken migration changed the file")
	}
	migrations = good
	m, err := Open(ctx, old, Options{Now: clock})
	if err != nil {
		t.Fatal(err)
	}
	defer m.Close()
	if n := count(t, m, "SELECT count(*) FROM holds WHERE more = '{}'"); n != 2 || !m.HasSeals() {
		t.Errorf("%d holds", n)
	}
	if count(t, m, "SELECT count(*) FROM history WHERE what = 'migrated' AND words LIKE '%copy kept in%'") != len(good) {
		t.Error("the history does not tell of it")
	}
	copies, _ := filepath.Glob(filepath.Join(filepath.Dir(old), "*.kept-*"))
	if len(copies) != 2 { // of the failed and of the good attempt
		t.Fatalf("copies: %v", copies)
	}
	fresh, _ := fresh(t)
	schema := func(c *File) (out []string) {
		rows, err := readSchema(ctx, c.rdb.QueryContext, "main")
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			out = append(out, r.sql)
		}
		slices.Sort(out)
		return out
	}
	if got, want := schema(m), schema(fresh); !slices.Equal(got, want) {
		t.Errorf("its tables are not those of a new file:\n%v\n%v", got, want)
	}
	if err := m.Change(ctx, func() error { return m.LogHistory("x", "", "", "", "") }); err != nil {
		t.Error(err)
	}
	if err := m.Read(ctx, func(q Querier) error { return CheckRows(q, SealedTables()...) }); err != nil {
		t.Error(err)
	}
	if n := count(t, m, "SELECT count(*) FROM history WHERE seal IS NULL") + count(t, m, "SELECT count(*) FROM routes WHERE seal IS NULL OR parts_seal IS NULL"); n > 0 {
		t.Errorf("%d rows have no check sum", n)
	}
	mustBeValid(t, old, "a migration")
	mustBeValid(t, copies[0], "copying")
}
