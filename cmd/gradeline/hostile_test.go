package main

import (
	"encoding/json"
	"math"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain/raster"
)

// blockFromX says in which column of blocks of 64 cells a distance from the west
// end lies, as hillTiles writes them.
func blockFromX(xM float64) int { return (int(math.Floor(xM/degreeM()/cellDeg)) + 10) / 64 }

// Ground that isn't there under a downgrade of 240 m: never a level road, whatever
// stands in its place. The survey says so and nothing over it is reliable, compare
// says unknown, and the map of roads to avoid does not clear it.
func TestMissingTerrainIsNeverLevelRoad(t *testing.T) {
	inBlocks := func(v float64) func(xM, z float64) float64 {
		return func(xM, z float64) float64 {
			if b := blockFromX(xM); b >= blockFromX(2000) && b <= blockFromX(5000) {
				return v
			}
			return honest(xM, z)
		}
	}
	all := func(v float64) func(xM, z float64) float64 { return func(xM, z float64) float64 { return v } }
	for _, c := range []struct {
		name   string
		change func(xM, z float64) float64
		args   []string // of gdal_translate
		allOf  bool     // nothing of the road has ground
	}{
		{"zeros aligned to blocks", inBlocks(0), nil, false},
		{"blocks that are not stored", inBlocks(0), []string{"-co", "SPARSE_OK=TRUE"}, false},
		{"a constant aligned to blocks", inBlocks(1333), nil, false},
		{"zeros in whole metres", inBlocks(0), []string{"-ot", "Int16"}, false},
		{"an undeclared -32768", inBlocks(-32768), nil, false},
		{"within a denormal of zero", inBlocks(3e-41), nil, false},
		{"zeros moved by a geoid", func(xM, z float64) float64 {
			if z := inBlocks(0)(xM, z); z != 0 {
				return z
			}
			return 47 + 5e-5*xM
		}, nil, false},
		{"all zero", all(0), nil, true},
		{"all one height", all(812.5), nil, true},
		{"all one height in whole metres", all(812), []string{"-ot", "Int16"}, true},
	} {
		h := makeExactHill(t, 6, c.change)
		dem := h.path("tiles.tif")
		args := append([]string{"-q", "-a_nodata", "none", "-co", "TILED=YES", "-co", "BLOCKXSIZE=64", "-co", "BLOCKYSIZE=64"}, c.args...)
		if out, err := exec.Command("gdal_translate", append(args, h.dem, dem)...).CombinedOutput(); err != nil {
			t.Fatalf("%s: gdal_translate: %v %s", c.name, err, out)
		}
		r := gradeline(t, "survey", "--terrain", dem, "--catalog", h.path("c.gpkg"), "--temperature", "10C", "--json", h.road)
		if c.allOf {
			if r.want(t, exitGaps); !strings.Contains(r.err, "one height") {
				t.Errorf("%s: %s", c.name, r.err)
			}
			if m := number(t, first(t, parse(t, r), "skipped"), "missing_m"); m < 5000 {
				t.Errorf("%s: %v m missing", c.name, m)
			}
			said := gradeline(t, "survey", "--terrain", dem, "--catalog", h.path("c.gpkg"), h.road).want(t, exitGaps)
			if strings.Contains(said.out, "0 descents") || !strings.Contains(said.out, "not known whether there are descents") {
				t.Errorf("%s: %s", c.name, said.out)
			}
		} else {
			a := parse(t, r.want(t, exitGaps))
			route := first(t, a, "routes")
			if m := number(t, route, "missing_m"); m < 2600 || m > 4200 || route["reliable"] == true {
				t.Errorf("%s: %v m missing, reliable %v", c.name, m, route["reliable"])
			}
			for _, d := range a["descents"].([]any) {
				if !strings.Contains(strings.Join(strs(d.(map[string]any)["flags"]), " "), "unreliable") {
					t.Errorf("%s: a descent without a flag: %v", c.name, d)
				}
			}
		}
		if !c.allOf {
			var m map[string]any
			if err := json.Unmarshal([]byte(gradeline(t, "overlay", "avoid", "--catalog", h.path("c.gpkg"), "--class", "us-5axle").out), &m); err != nil {
				t.Fatal(err)
			}
			if p := first(t, m, "features")["properties"].(map[string]any); p["answer"] != "unknown" || p["why"] == "" {
				t.Errorf("%s: the map of roads to avoid says %v: %v", c.name, p["answer"], p["why"])
			}
		}
		r = gradeline(t, "compare", "--class", "us-5axle", "--terrain", dem, "--json", h.road)
		r.want(t, exitGaps)
		if v := first(t, parse(t, r), "routes"); v["held"] == true || c.allOf && v["held"] != nil || v["unknown"] == "" || v["time_s"] != nil {
			t.Errorf("%s: compare says %v", c.name, v)
		}
	}
}

// Whoever knows that level ground is real says so; a raster of whole metres needs no
// word for its plains.
func TestLevelGroundThatIsReal(t *testing.T) {
	h := makeExactHill(t, 6, nil) // level to the last bit before and after the hill
	a := parse(t, gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("a.gpkg"), "--json", h.road).want(t, exitGaps))
	if m := number(t, first(t, a, "routes"), "missing_m"); m < 2500 {
		t.Errorf("%v m missing", m)
	}
	a = parse(t, gradeline(t, "survey", "--flat-is-ground", "--terrain", h.dem, "--catalog", h.path("b.gpkg"), "--json", h.road).want(t, exitDone))
	if m := number(t, first(t, a, "routes"), "missing_m"); m != 0 {
		t.Errorf("%v m missing", m)
	}
	// A plain of 1 in 3,000 before and after the hill, in whole metres.
	h = makeExactHill(t, 6, func(xM, z float64) float64 { return math.Round(honest(xM, z) - xM/3000) })
	whole := h.path("whole.tif")
	if out, err := exec.Command("gdal_translate", "-q", "-ot", "Int16", h.dem, whole).CombinedOutput(); err != nil {
		t.Fatalf("gdal_translate: %v %s", err, out)
	}
	a = parse(t, gradeline(t, "survey", "--terrain", whole, "--catalog", h.path("d.gpkg"), "--json", h.road).want(t, exitDone))
	if m := number(t, first(t, a, "routes"), "missing_m"); m != 0 || len(a["descents"].([]any)) != 1 {
		t.Errorf("whole metres: %v m missing, %v", m, a["descents"])
	}
}

// A raster of 8 bits is no terrain until its unit is given.
func TestEightBitRasterIsRefused(t *testing.T) {
	h := makeHill(t, 1, func(xM, z float64) float64 { return z - 1300 })
	path := filepath.Join(h.dir, "byte.tif")
	if out, err := exec.Command("gdal_translate", "-q", "-ot", "Byte", h.dem, path).CombinedOutput(); err != nil {
		t.Fatalf("gdal_translate: %v %s", err, out)
	}
	gradeline(t, "survey", "--terrain", path, "--catalog", h.path("c.gpkg"), h.road).want(t, exitUsage).says(t, "byte.tif", "8 bits", "--vertical-unit")
	if r := gradeline(t, "survey", "--terrain", path, "--vertical-unit", "m", "--catalog", h.path("c.gpkg"), h.road); r.code == exitUsage {
		t.Errorf("with a unit: %s", r.err)
	}
}

// honest is ground as the world has it, rough by a centimetre.
func honest(xM, z float64) float64 { return z + .01*math.Sin(xM*7919) }

// makeExactHill is makeHill without any roughness.
func makeExactHill(t *testing.T, gradePct float64, change func(xM, h float64) float64) hill {
	t.Helper()
	h := makeHill(t, gradePct, change)
	g := hillGrid(h.lengthM, gradePct, change, 0)
	if err := raster.Write(h.dem, g, raster.WriteOptions{NoData: -9999}); err != nil {
		t.Fatal(err)
	}
	return h
}

func strs(v any) []string {
	var out []string
	list, _ := v.([]any)
	for _, x := range list {
		out = append(out, x.(string))
	}
	return out
}

// A GeoPackage of roads whose layer is a view is refused by name. The test stands here
// because here two copies of SQLite meet, GDAL's and the catalogue's: a statement of
// one in the hands of the other ended the program.
func TestAViewAmongTheRoadsIsRefused(t *testing.T) {
	h := makeHill(t, 6, nil)
	path := h.path("roads.gpkg")
	if out, err := exec.Command("ogr2ogr", "-f", "GPKG", "-nln", "roads", path, h.road).CombinedOutput(); err != nil {
		t.Fatalf("ogr2ogr: %v %s", err, out)
	}
	script := `import sqlite3, sys
c = sqlite3.connect(sys.argv[1])
c.execute("CREATE VIEW v AS SELECT fid, geom, name FROM roads")
c.execute("INSERT INTO gpkg_contents(table_name, data_type, identifier, srs_id) VALUES ('v', 'features', 'v', 4326)")
c.execute("INSERT INTO gpkg_geometry_columns VALUES ('v', 'geom', 'LINESTRING', 4326, 0, 0)")
c.commit()`
	if out, err := exec.Command("/usr/bin/python3", "-c", script, path).CombinedOutput(); err != nil {
		t.Fatalf("python3: %v %s", err, out)
	}
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--layer", "v", path).want(t, exitFailed).says(t, "roads.gpkg", `layer v`, "a view")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--layer", "roads", path).want(t, exitDone)
}
