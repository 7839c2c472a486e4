package store

import (
	"fmt"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"gradeline/catalog/gpkg"
)

// Every layer goes by one ogr2ogr into a running PostgreSQL with PostGIS, with all its rows: lines
// and points are geometries with SRID 4326 that PostGIS itself calls valid and measures as long as
// the roads are, lists are of type json, truth values boolean. Source: PostgreSQL 15 and PostGIS
// 3.3, as Debian 12 packages them, status: reference program.
func TestEveryLayerGoesIntoPostGIS(t *testing.T) {
	bins, _ := filepath.Glob("/usr/lib/postgresql/*/bin")
	extensions, _ := filepath.Glob("/usr/share/postgresql/*/extension/postgis.control")
	if testing.Short() || len(bins) == 0 || len(extensions) == 0 {
		t.Skip("some seconds; needs Debian's postgresql-15-postgis-3")
	}
	dir, err := os.MkdirTemp("", "pg") // a socket's path has at most 107 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	run := asServer(t, dir)
	bin := bins[len(bins)-1]
	db := filepath.Join(dir, "db")
	run(bin+"/initdb", "-D", db, "-A", "trust", "-U", "gis", "--no-sync", "-E", "UTF8", "--locale=C")
	run(bin+"/pg_ctl", "-D", db, "-w", "-l", filepath.Join(dir, "log"), "-o", "-k "+dir+" -h '' -F", "start")
	defer run(bin+"/pg_ctl", "-D", db, "-m", "immediate", "stop")
	ask := func(sql string) string {
		return strings.TrimSpace(run(bin+"/psql", "-h", dir, "-U", "gis", "-Atqc", sql, "postgres"))
	}
	ask("CREATE EXTENSION postgis")

	c, path := fresh(t)
	fillEveryTable(t, c)
	rows := map[string]int{}
	roadM := 0.0
	err = c.file.Read(ctx, func(q gpkg.Querier) error {
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
	b, err := os.ReadFile(path)
	if err == nil {
		path = filepath.Join(dir, "c.gpkg")
		err = os.WriteFile(path, b, 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
	if out := run("ogr2ogr", "-f", "PostgreSQL", "PG:host="+dir+" dbname=postgres user=gis", path); strings.Contains(out, "ERROR") {
		t.Errorf("%s", out)
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

// asServer gives a function that runs a program as a user who may run a PostgreSQL server, which
// refuses root, and returns its output.
func asServer(t *testing.T, dir string) func(name string, args ...string) string {
	attr := &syscall.SysProcAttr{}
	if os.Getuid() == 0 {
		u, err := user.Lookup("postgres")
		if err != nil {
			t.Skip("needs Debian's postgresql-common")
		}
		uid, _ := strconv.Atoi(u.Uid)
		gid, _ := strconv.Atoi(u.Gid)
		attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		if err := os.Chown(dir, uid, gid); err != nil {
			t.Fatal(err)
		}
	}
	return func(name string, args ...string) string {
		t.Helper()
		cmd := exec.Command(name, args...)
		cmd.SysProcAttr, cmd.Dir, cmd.Env = attr, dir, append(os.Environ(), "HOME="+dir)
		out, err := os.Create(filepath.Join(dir, "out")) // a pipe would stay open in the server
		if err != nil {
			t.Fatal(err)
		}
		defer out.Close()
		cmd.Stdout, cmd.Stderr = out, out
		err = cmd.Run()
		b, _ := os.ReadFile(out.Name())
		if err != nil {
			t.Fatalf("%s %v: %v\n%s", name, args, err, b)
		}
		return string(b)
	}
}
