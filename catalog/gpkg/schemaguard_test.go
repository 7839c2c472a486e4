package gpkg

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// hostile are changes to a schema that no version of this program, no GeoPackage
// standard and no GDAL makes, and the name that the refusal must give.
var hostile = []struct {
	name, sql, says string
	isMalformed     bool // SQLite itself refuses it before it can be looked at
}{
	{"trigger on our table", "CREATE TRIGGER better AFTER INSERT ON reviews BEGIN UPDATE holds SET gear = 14, speed_mps = 33; DELETE FROM history; END", `trigger "better" on "reviews"`, false},
	{"endless trigger", "CREATE TRIGGER slow AFTER UPDATE ON catalogue BEGIN INSERT INTO history(at, what) SELECT 1, x FROM (WITH RECURSIVE r(x) AS (SELECT 1 UNION ALL SELECT x + 1 FROM r) SELECT x FROM r); END", `trigger "slow"`, false},
	{"our trigger with another body", "DROP TRIGGER reviews_by_hand_update; CREATE TRIGGER reviews_by_hand_update AFTER UPDATE ON reviews BEGIN DELETE FROM history; END", `trigger "reviews_by_hand_update"`, false},
	{"standard's name, another body", "DROP TRIGGER rtree_sites_geom_delete; CREATE TRIGGER rtree_sites_geom_delete AFTER DELETE ON sites BEGIN DELETE FROM holds; END", `trigger "rtree_sites_geom_delete"`, false},
	{"count trigger that does more", "CREATE TABLE gpkg_ogr_contents(table_name TEXT NOT NULL PRIMARY KEY,feature_count INTEGER DEFAULT NULL); CREATE TRIGGER trigger_insert_feature_count_sites AFTER INSERT ON sites BEGIN UPDATE gpkg_ogr_contents SET feature_count = feature_count + 1 WHERE lower(table_name) = lower('sites'); DELETE FROM holds; END", `trigger "trigger_insert_feature_count_sites"`, false},
	{"view", "CREATE VIEW best AS SELECT * FROM holds", `view "best"`, false},
	{"view in a table's place", "ALTER TABLE holds RENAME TO kept; CREATE VIEW holds AS SELECT fid, 33 AS speed_mps FROM kept", `"holds"`, false},
	{"virtual table", "CREATE VIRTUAL TABLE words USING fts3(body)", `virtual table "words"`, false},
	{"R-tree of another shape", "CREATE VIRTUAL TABLE rtree_holds_geom USING rtree(id, minx, maxx)", `virtual table "rtree_holds_geom"`, false},
	{"index expression", "CREATE INDEX quick ON holds(abs(speed_mps))", `index "quick" on "holds"`, false},
	{"partial index", "CREATE INDEX some ON holds(gear) WHERE speed_mps > 3", `index "some" on "holds"`, false},
	{"unique index that keeps rows out", "CREATE UNIQUE INDEX one ON sites(side)", `index "one" on "sites": it could keep rows out`, false},
	{"index of ours, other columns", "DROP INDEX descents_route; CREATE INDEX descents_route ON descents(name)", `index "descents_route"`, false},
	{"generated column in our table", "ALTER TABLE holds ADD COLUMN twice REAL AS (2 * speed_mps)", `table "holds"`, false},
	{"generated column in another table", "CREATE TABLE notes(a INTEGER, b INTEGER GENERATED ALWAYS AS (a + 1) STORED)", `table "notes"`, false},
	{"column added", "ALTER TABLE reviews ADD COLUMN colour TEXT", `table "reviews"`, false},
	{"column lost", "ALTER TABLE reviews DROP COLUMN photo_ref", "column photo_ref is missing", false},
	{"definition changed", "PRAGMA writable_schema = ON; UPDATE sqlite_master SET sql = replace(sql, 'holds BOOLEAN NOT NULL', 'holds BOOLEAN NOT NULL CHECK (gear > 0)') WHERE name = 'holds'", `table "holds"`, false},
	{"default that calculates", "PRAGMA writable_schema = ON; UPDATE sqlite_master SET sql = replace(sql, 'note TEXT NOT NULL DEFAULT ''''', 'note TEXT NOT NULL DEFAULT (hex(randomblob(9)))') WHERE name = 'reviews'", `table "reviews"`, false},
	{"view under a table's name", "CREATE VIEW v AS SELECT 1; PRAGMA writable_schema = ON; UPDATE sqlite_master SET type = 'table' WHERE name = 'v'", `"v"`, true},
	{"trigger under an index's name", "CREATE TRIGGER v AFTER INSERT ON sites BEGIN DELETE FROM holds; END; PRAGMA writable_schema = ON; UPDATE sqlite_master SET type = 'index' WHERE name = 'v'", `"v"`, true},
	{"table lost", "DROP TABLE history", `table "history": it is missing`, false},
	{"statistics of another shape", "CREATE TABLE t(a); PRAGMA writable_schema = ON; UPDATE sqlite_master SET name = 'sqlite_stat1', tbl_name = 'sqlite_stat1', sql = 'CREATE TABLE sqlite_stat1(tbl, idx, stat, a AS (1))' WHERE name = 't'", `"sqlite_stat1"`, false},
}

// What is more than data is refused by name, for reading and for writing, and nothing
// of the file changes; doctor names the same.
func TestWhatIsMoreThanDataIsRefused(t *testing.T) {
	good := withRows(t)
	for _, tc := range hostile {
		t.Run(tc.name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, tc.sql)
			before, _ := os.ReadFile(path)
			for _, o := range []Options{{}, {ReadOnly: true}} {
				c, err := Open(ctx, path, o)
				if err == nil {
					c.Close()
					t.Fatal("it was opened")
				}
				if tc.isMalformed {
					if !errors.Is(err, terrain.ErrRead) {
						t.Errorf("%v", err)
					}
					continue
				}
				if !errors.Is(err, ErrSchema) || !errors.Is(err, catalog.ErrNotOurs) || !strings.Contains(err.Error(), tc.says) {
					t.Errorf("%v", err)
				}
			}
			if tc.isMalformed {
				return
			}
			c, err := OpenForExamination(ctx, path, Options{})
			if err != nil {
				t.Fatal(err)
			}
			found, err := c.Examine(ctx)
			if c.Close(); err != nil || len(found) == 0 {
				t.Fatalf("doctor: %v, %v", found, err)
			}
			if f := found[0]; f.Check != CheckSchema || !strings.Contains(tc.says+" is missing", strings.SplitN(f.Where, " on ", 2)[0]) && !strings.Contains(f.Where, `"`) {
				t.Errorf("doctor: %+v", f)
			}
			if after, _ := os.ReadFile(path); !bytes.Equal(before, after) {
				t.Error("it was changed")
			}
		})
	}
}

// A schema that turns bad while the file is open is refused inside the transaction,
// for reading too, and nothing is written.
func TestASchemaThatTurnsBadIsRefused(t *testing.T) {
	path := withRows(t)
	w := open(t, path)
	r, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	rows := func(q Querier) error { _, err := First(q, []any{new(int)}, "SELECT count(*) FROM holds"); return err }
	if err := r.Read(ctx, rows); err != nil {
		t.Fatal(err)
	}
	spoil(t, path, hostile[0].sql)
	ran := false
	if err := w.Change(ctx, func() error { ran = true; return nil }); !errors.Is(err, ErrSchema) || ran {
		t.Errorf("a change: %v, ran %v", err, ran)
	}
	if err := r.Read(ctx, rows); !errors.Is(err, ErrSchema) {
		t.Errorf("a reader: %v", err)
	}
	spoil(t, path, "DROP TRIGGER better")
	if err := w.Change(ctx, func() error { return w.LogHistory("x", "", "", "", "") }); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

// What GDAL writes beside our tables passes: a layer with a spatial index, layer_styles
// with its count triggers. Source: GDAL's own ogr2ogr, status: reference program.
func TestWhatGDALWritesPasses(t *testing.T) {
	path := withRows(t)
	dir := t.TempDir()
	points := filepath.Join(dir, "p.geojson")
	table := filepath.Join(dir, "t.csv")
	for name, text := range map[string]string{
		points: `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"n":"x"},"geometry":{"type":"Point","coordinates":[1,2]}}]}`,
		table:  "styleName,styleQML\na,b\n",
	} {
		if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	// GDAL counts features only in files that have this table already.
	spoil(t, path, "CREATE TABLE gpkg_ogr_contents(table_name TEXT NOT NULL PRIMARY KEY,feature_count INTEGER DEFAULT NULL)")
	for _, args := range [][]string{
		{"-update", path, points, "-nln", "stops"}, {"-update", path, points, "-nln", `odd "layer's_name`}, {"-update", path, table, "-nln", "layer_styles"},
	} {
		if out, err := exec.Command("ogr2ogr", args...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %v\n%s", args, err, out)
		}
	}
	spoil(t, path, "ANALYZE", "CREATE INDEX mine ON holds(gear, speed_mps DESC)", "CREATE UNIQUE INDEX theirs ON stops(n COLLATE NOCASE)")
	c := open(t, path)
	if err := c.Change(ctx, func() error { return c.LogHistory("x", "", "", "", "") }); err != nil {
		t.Fatal(err)
	}
	if n := count(t, c, "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'trigger_insert%'"); n < 3 {
		t.Errorf("GDAL wrote %d count triggers: the test shows little", n)
	}
	if n := count(t, c, "SELECT count(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'rtree_odd%'"); n < 5 {
		t.Errorf("GDAL wrote %d triggers of a spatial index: the test shows little", n)
	}
	if found, err := c.Examine(ctx); err != nil || len(found) > 0 {
		t.Errorf("doctor: %v, %v", found, err)
	}
}

// The newer triggers of the standard's R-tree (OGC 12-128r19 annex F.3).
func TestTheNewerSpatialIndexPasses(t *testing.T) {
	path := withRows(t)
	var script []string
	for _, trigger := range generalTriggers {
		if strings.Contains(trigger, "rtree_") && !strings.Contains(trigger, "_update1") && !strings.Contains(trigger, "_update3") {
			script = append(script, strings.NewReplacer("{t}", "stops", "{c}", "geom", "{i}", "fid").Replace(trigger))
		}
	}
	spoil(t, path, append([]string{"CREATE TABLE stops(fid INTEGER PRIMARY KEY, geom BLOB)", `CREATE VIRTUAL TABLE "rtree_stops_geom" USING rtree(id, minx, maxx, miny, maxy)`}, script...)...)
	open(t, path)
}

// Data are taken over into a clean file, and none of the code.
func TestTakeOver(t *testing.T) {
	good := withRows(t)
	for _, tc := range hostile {
		if strings.Contains(tc.name, "in a table's place") || tc.name == "table lost" {
			continue // there is nothing to take over from
		}
		if tc.isMalformed || tc.name == "default that calculates" {
			continue // SQLite itself, or the authorizer, does not let it be read
		}
		t.Run(tc.name, func(t *testing.T) {
			path := copyFile(t, good)
			spoil(t, path, tc.sql)
			from, err := OpenForExamination(ctx, path, Options{})
			if err != nil {
				t.Fatal(err)
			}
			defer from.Close()
			clean := filepath.Join(t.TempDir(), "clean.gpkg")
			to := open(t, clean)
			n, _, err := from.TakeOver(ctx, to, "Ada")
			if err != nil || n["descents"] != 2 || n["holds"] != 2 || n["reviews"] != 2 || n["sites"] != 1 {
				t.Fatalf("%v, %v", n, err)
			}
			if found, err := to.Examine(ctx); err != nil || len(found) > 0 {
				t.Errorf("doctor of the clean file: %+v, %v", found, err)
			}
			to.Close()
			mustBeValid(t, clean, "taking over")
		})
	}
}

func TestSQLTokens(t *testing.T) {
	got := strings.Join(sqlTokens("CREATE  Table \"a\"\"b\" -- note\n([c d] TEXT /* x */ DEFAULT 'It''s',`e` REAL) 'open"), "|")
	if want := `create|table|"a""b"|(|"c d"|text|default|'It''s'|,|"e"|real|)|?`; got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

func FuzzSQLTokens(f *testing.F) {
	for _, tc := range hostile {
		f.Add(tc.sql)
	}
	f.Fuzz(func(t *testing.T, sql string) {
		for _, token := range sqlTokens(sql) {
			if token == "" {
				t.Fatal("an empty token")
			}
		}
		refusal(&schemaRow{kind: "trigger", name: "rtree_a_b_insert", table: "a", sql: sql}, map[string]bool{"a": true})
	})
}
