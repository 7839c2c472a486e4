package vector

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/routes"
	"gradeline/terrain"
)

// A layer that is a view, of any query, or a virtual table is refused before it is
// read; the table beside it is read.
func TestALayerThatIsNoTableIsRefused(t *testing.T) {
	for name, sql := range map[string]string{
		"plain view":    "CREATE VIEW vr AS SELECT * FROM roads",
		"endless view":  "CREATE VIEW vr AS WITH RECURSIVE r(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM r) SELECT i AS fid, geom FROM r, roads",
		"no geometry":   "CREATE VIEW vr AS SELECT 1 AS x",
		"virtual table": "CREATE VIRTUAL TABLE vr USING fts4(geom)",
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			road, path := filepath.Join(dir, "road.geojson"), filepath.Join(dir, "roads.gpkg")
			if err := os.WriteFile(road, []byte(`{"type":"Feature","properties":{"name":"A"},"geometry":{"type":"LineString","coordinates":[[-110,40],[-110.01,40]]}}`), 0o644); err != nil {
				t.Fatal(err)
			}
			script := "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); c.executescript(sys.argv[2] + \"; INSERT INTO gpkg_contents(table_name, data_type, identifier, srs_id) VALUES ('vr', 'features', 'vr', 4326); INSERT INTO gpkg_geometry_columns VALUES ('vr', 'geom', 'LINESTRING', 4326, 0, 0)\"); c.commit()"
			for _, cmd := range [][]string{{"ogr2ogr", path, road, "-nln", "roads"}, {"/usr/bin/python3", "-c", script, path, sql}} {
				if out, err := exec.Command(cmd[0], cmd[1:]...).CombinedOutput(); err != nil {
					t.Fatalf("%v\n%s", err, out)
				}
			}
			count := 0
			each := func(routes.Feature) error { count++; return nil }
			_, err := readOGR(context.Background(), path, Options{Layer: "vr"}, each)
			if !errors.Is(err, terrain.ErrInput) || !strings.Contains(err.Error(), "not a plain table") {
				t.Errorf("%v", err)
			}
			if _, err := readOGR(context.Background(), path, Options{Layer: "roads"}, each); err != nil || count != 1 {
				t.Errorf("the table beside it: %d features, %v", count, err)
			}
		})
	}
}
