package store

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
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
	for _, driver := range []string{"CSV", "ESRI Shapefile"} { // a folder holds all layers
		dir := filepath.Join(t.TempDir(), "layers")
		convert(t, "all layers", driver, dir, path)
		counts := featureCounts(t, dir)
		for layer, n := range rows {
			if got, isThere := counts[layer]; !isThere || got != n {
				t.Errorf("%s as %s: %d rows, want %d", layer, driver, got, n)
			}
		}
	}
	dir := t.TempDir()
	for layer, n := range rows {
		to := filepath.Join(dir, layer)
		convert(t, layer, "PGDump", to+".sql", path, layer, "--config", "PG_USE_COPY", "YES")
		checkPostgres(t, layer, to+".sql", n)
		ends := map[string]string{"GeoJSON": ".geojson"}
		if features[layer] { // GDAL 3.6.2 writes no FlatGeobuf without geometries that it can read
			ends["FlatGeobuf"] = ".fgb"
		}
		for driver, end := range ends {
			convert(t, layer, driver, to+end, path, layer)
			if counts := featureCounts(t, to+end); len(counts) != 1 || counts[layer] != n {
				t.Errorf("%s as %s: %v, want %d rows", layer, driver, counts, n)
			}
		}
	}
}

// convert runs ogr2ogr, which must not complain.
func convert(t *testing.T, layer, driver, to, from string, more ...string) {
	t.Helper()
	out, err := exec.Command("ogr2ogr", append([]string{"-f", driver, to, from}, more...)...).CombinedOutput()
	said := strings.ReplaceAll(string(out), "ERROR 6: Can't create fields of type Binary on shapefile layers.", "")
	if err != nil || strings.Contains(said, "ERROR") {
		t.Errorf("%s to %s: %v\n%s", layer, driver, err, out)
	}
}

// featureCounts are the rows of each layer of a data set, as ogrinfo counts them.
func featureCounts(t *testing.T, dataset string) map[string]int {
	t.Helper()
	info, err := exec.Command("ogrinfo", "-so", "-al", dataset).CombinedOutput()
	if err != nil {
		t.Errorf("%s: %v\n%s", dataset, err, info)
	}
	counts, layer := map[string]int{}, ""
	for _, line := range strings.Split(string(info), "\n") {
		if name, ok := strings.CutPrefix(line, "Layer name: "); ok {
			layer = name
		}
		if n, ok := strings.CutPrefix(line, "Feature Count: "); ok {
			if counts[layer], err = strconv.Atoi(n); err != nil {
				t.Errorf("%s, %s: %q", dataset, layer, line)
			}
		}
	}
	return counts
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
