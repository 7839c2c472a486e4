package survey_test

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"

	"gradeline/data"
	"gradeline/terrain"
	"gradeline/terrain/raster"
	"gradeline/terrain/synth"
)

var demoWrite = flag.Bool("demo.write", false, "write the demonstration's files anew into data/demo")

// demoScene is made once for all tests.
var demoScene = sync.OnceValue(synth.Demo)

const demoFolder = "../../data/demo"

// The embedded demonstration is what synth.Demo makes: every height and every
// line. With -demo.write it is made anew first.
func TestDemoDataIsReproduced(t *testing.T) {
	scene := demoScene()
	lines, err := synth.GeoJSON(scene.Roads, synth.Split)
	if err != nil {
		t.Fatal(err)
	}
	tif, geojson := embedded(t, "demo/terrain.tif"), embedded(t, "demo/routes.geojson")
	if *demoWrite {
		tif = writeDemoTerrain(t, scene)
		geojson = lines
		if err := os.WriteFile(filepath.Join(demoFolder, "routes.geojson"), lines, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if len(tif) > 2500<<10 {
		t.Errorf("terrain.tif is %d KiB, more than the 2,500 an embedded file may be", len(tif)>>10)
	}
	path := filepath.Join(t.TempDir(), "terrain.tif")
	if err := os.WriteFile(path, tif, 0o644); err != nil {
		t.Fatal(err)
	}
	checkDemoHeader(t, path, scene.Grid)
	checkDemoHeights(t, path, scene)
	checkDemoLines(t, geojson, lines)
}

func embedded(t *testing.T, name string) []byte {
	t.Helper()
	b, err := data.Files.ReadFile(name)
	if err != nil && !*demoWrite {
		t.Fatal(err)
	}
	return b
}

// writeDemoTerrain writes the raster, and lets gdal_translate of Debian's gdal-bin
// add the description.
func writeDemoTerrain(t *testing.T, scene *synth.Scene) []byte {
	t.Helper()
	plain := filepath.Join(t.TempDir(), "plain.tif")
	if err := raster.Write(plain, scene.Grid, raster.WriteOptions{}); err != nil {
		t.Fatal(err)
	}
	target := filepath.Join(demoFolder, "terrain.tif")
	part := filepath.Join(demoFolder, ".terrain.part.tif")
	out, err := exec.Command("gdal_translate", "-q", "-of", "GTiff", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3", "-co", "ZLEVEL=9",
		"-co", "TILED=YES", "-co", "BLOCKXSIZE=256", "-co", "BLOCKYSIZE=256",
		"-mo", "TIFFTAG_IMAGEDESCRIPTION="+demoDescription, "--config", "GDAL_PAM_ENABLED", "NO", plain, part).CombinedOutput()
	if err != nil {
		t.Fatalf("gdal_translate: %v: %s", err, out)
	}
	if err := os.Rename(part, target); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(target)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

const demoDescription = synth.DemoName + ": an invented place, heights in metres over an invented zero"

// checkDemoHeader reads the file's header by a reference program, gdalinfo.
func checkDemoHeader(t *testing.T, path string, g *terrain.Grid) {
	t.Helper()
	out, err := exec.Command("gdalinfo", "-json", path).Output()
	if err != nil {
		t.Fatalf("gdalinfo of gdal-bin: %v", err)
	}
	var info struct {
		Size         []int
		GeoTransform []float64
		Metadata     map[string]map[string]string
		Bands        []struct{ Unit string }
		CoordSystem  struct{ WKT string } `json:"coordinateSystem"`
	}
	if err := json.Unmarshal(out, &info); err != nil {
		t.Fatal(err)
	}
	want := []float64{g.WestX, g.StepX, 0, g.NorthY, 0, -g.StepY}
	for i, v := range want {
		if len(info.GeoTransform) != 6 || math.Abs(info.GeoTransform[i]-v) > 1e-6 {
			t.Fatalf("geotransform %v, want %v", info.GeoTransform, want)
		}
	}
	if len(info.Size) != 2 || info.Size[0] != g.Cols || info.Size[1] != g.Rows {
		t.Errorf("size %v, want %d by %d", info.Size, g.Cols, g.Rows)
	}
	if d := info.Metadata[""]["TIFFTAG_IMAGEDESCRIPTION"]; d != demoDescription {
		t.Errorf("description %q", d)
	}
	if len(info.Bands) != 1 || info.Bands[0].Unit != "m" {
		t.Errorf("bands %+v, want one in m", info.Bands)
	}
	if !bytes.Contains([]byte(info.CoordSystem.WKT), []byte("Transverse Mercator")) {
		t.Errorf("CRS %s", info.CoordSystem.WKT)
	}
}

// checkDemoHeights compares every cell inside the outermost ring, read back as a
// user's data would be. A rounding difference of the making machine may move a
// height by one step of 1/8 m in a few cells.
func checkDemoHeights(t *testing.T, path string, scene *synth.Scene) {
	t.Helper()
	s, err := raster.Open(context.Background(), []string{path}, raster.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	g := scene.Grid
	points := make([]terrain.Point, 0, g.Cols)
	out := make([]terrain.Sample, g.Cols-2)
	moved := 0
	for row := 1; row < g.Rows-1; row++ {
		points = points[:0]
		for col := 1; col < g.Cols-1; col++ {
			points = append(points, scene.Roads[0].PointFromXY(g.WestX+(float64(col)+0.5)*g.StepX, g.NorthY-(float64(row)+0.5)*g.StepY))
		}
		if err := s.Sample(context.Background(), points, out); err != nil {
			t.Fatal(err)
		}
		for i, got := range out {
			want := float64(g.ElevationM[row*g.Cols+i+1])
			d := math.Abs(got.ElevationM - want)
			if !(d < 0.126) {
				t.Fatalf("row %d column %d: %v %.3f m, want %.3f m", row, i+1, got.Miss, got.ElevationM, want)
			}
			if d > 0.01 {
				moved++
			}
		}
	}
	if limit := g.Cols * g.Rows / 100000; moved > limit {
		t.Errorf("%d heights moved by a rounding step, at most %d can be rounding", moved, limit)
	}
}

// checkDemoLines compares features by content, coordinates to 1e-7 degrees.
func checkDemoLines(t *testing.T, got, want []byte) {
	t.Helper()
	type collection struct {
		Type     string
		Features []struct {
			Properties map[string]any
			Geometry   struct {
				Type        string
				Coordinates [][2]float64
			}
		}
	}
	var a, b collection
	if err := json.Unmarshal(got, &a); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(want, &b); err != nil {
		t.Fatal(err)
	}
	if len(a.Features) != len(b.Features) || a.Type != "FeatureCollection" {
		t.Fatalf("%d features of a %s, want %d", len(a.Features), a.Type, len(b.Features))
	}
	for i, f := range a.Features {
		w := b.Features[i]
		pa, _ := json.Marshal(f.Properties)
		pb, _ := json.Marshal(w.Properties)
		if !bytes.Equal(pa, pb) || f.Properties["invented"] != true {
			t.Errorf("feature %d: properties %s, want %s", i+1, pa, pb)
		}
		if len(f.Geometry.Coordinates) != len(w.Geometry.Coordinates) {
			t.Fatalf("feature %d: %d vertices, want %d", i+1, len(f.Geometry.Coordinates), len(w.Geometry.Coordinates))
		}
		for k, c := range f.Geometry.Coordinates {
			if d := w.Geometry.Coordinates[k]; math.Hypot(c[0]-d[0], c[1]-d[1]) > 1e-7 {
				t.Fatalf("feature %d vertex %d: %v, want %v", i+1, k, c, d)
			}
		}
	}
}
