package store

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog/gpkg"
)

// Every layer goes through ogr2ogr into the formats that offices use, with all its
// rows, and what is JSON stays JSON. Source: GDAL's own ogr2ogr and ogrinfo, status:
// reference program. FlatGeobuf and shapefile have no lists: ogr2ogr writes
// their text; a shapefile has no binary columns either, and cuts names and long text.
func TestEveryLayerGoesIntoOtherFormats(t *testing.T) {
	c, path := fresh(t)
	fillEveryTable(t, c)
	mustHoldJSON(t, c)
	rows := map[string]int{}
	for _, layer := range gpkg.TableNames() {
		err := c.file.Read(ctx, func(q gpkg.Querier) error {
			var n int
			_, err := gpkg.First(q, []any{&n}, "SELECT count(*) FROM "+layer)
			rows[layer] = n
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	c.Close()
	features := map[string]bool{"descents": true, "sites": true, "steep_parts": true}
	for _, f := range []struct{ driver, end string }{{"FlatGeobuf", ".fgb"}, {"ESRI Shapefile", ".shp"}, {"CSV", ".csv"}, {"PGDump", ".sql"}, {"GeoJSON", ".geojson"}} {
		dir := t.TempDir()
		for layer, n := range rows {
			if f.driver == "FlatGeobuf" && !features[layer] {
				continue // GDAL 3.6.2 writes no FlatGeobuf without geometries that it can read
			}
			end := f.end
			if f.driver == "ESRI Shapefile" && !features[layer] {
				end = ".dbf"
			}
			to := filepath.Join(dir, layer+end)
			args := []string{"-f", f.driver, to, path, layer}
			if f.driver == "PGDump" {
				args = append(args, "--config", "PG_USE_COPY", "YES")
			}
			out, err := exec.Command("ogr2ogr", args...).CombinedOutput()
			said := strings.ReplaceAll(string(out), "ERROR 6: Can't create fields of type Binary on shapefile layers.", "")
			if err != nil || strings.Contains(said, "ERROR") {
				t.Errorf("%s to %s: %v\n%s", layer, f.driver, err, out)
				continue
			}
			if f.driver == "PGDump" {
				checkPostgres(t, layer, to, n)
				continue
			}
			info, err := exec.Command("ogrinfo", "-so", "-al", to).CombinedOutput()
			if want := fmt.Sprintf("Feature Count: %d\n", n); err != nil || !strings.Contains(string(info), want) {
				t.Errorf("%s as %s: %v, want %s\n%s", layer, f.driver, err, want, info)
			}
		}
	}
}

// checkPostgres reads the rows of a dump as PostgreSQL would: as many as there are, and
// each value of a json column is JSON.
func checkPostgres(t *testing.T, layer, file string, n int) {
	t.Helper()
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var columns []string
	isJSON := map[string]bool{}
	rows, copying := 0, false
	for _, line := range strings.Split(string(b), "\n") {
		switch {
		case strings.Contains(line, "ADD COLUMN"):
			f := strings.Fields(line)
			name := strings.Trim(f[5], `"`)
			if strings.HasPrefix(strings.ToLower(f[6]), "bool") && strings.HasSuffix(line, "DEFAULT 0;") {
				t.Errorf("%s.%s: PostgreSQL takes no number for a boolean: %s", layer, name, line)
			}
			isJSON[name] = strings.HasPrefix(strings.ToLower(f[6]), "json")
			if i := strings.Index(line, "DEFAULT '"); i >= 0 && isJSON[name] {
				value := line[i+len("DEFAULT '") : strings.LastIndexByte(line, '\'')]
				if !json.Valid([]byte(value)) {
					t.Errorf("%s.%s: default %q is no JSON", layer, name, value)
				}
			}
		case strings.HasPrefix(line, "COPY "):
			list := line[strings.IndexByte(line, '(')+1 : strings.IndexByte(line, ')')]
			columns, copying = strings.Split(list, ", "), true
		case line == `\.`:
			copying = false
		case copying:
			rows++
			for i, v := range strings.Split(line, "\t") {
				if name := strings.Trim(columns[i], `"`); isJSON[name] && v != `\N` && !json.Valid([]byte(strings.ReplaceAll(v, `\\`, `\`))) {
					t.Errorf("%s.%s holds %q", layer, name, v)
				}
			}
		}
	}
	if rows != n {
		t.Errorf("%s: %d rows for PostgreSQL, want %d", layer, rows, n)
	}
	if layer == "descents" && !isJSON["flags"] {
		t.Errorf("no column is JSON: the test shows nothing")
	}
}
