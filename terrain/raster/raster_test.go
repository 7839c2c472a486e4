package raster

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain"
)

// TestMain keeps the index of the tests out of the user's cache folder.
func TestMain(m *testing.M) {
	if asSideChild() {
		return
	}
	dir, err := os.MkdirTemp("", "raster-test-*")
	if err != nil {
		panic(err)
	}
	os.Setenv("XDG_CACHE_HOME", dir)
	code := m.Run()
	os.RemoveAll(dir)
	os.Exit(code)
}

// grid makes a raster of f at cell centres, in CRS coordinates.
func grid(crs string, west, north, step float64, cols, rows int, f func(x, y float64) float64) *terrain.Grid {
	g := &terrain.Grid{Cols: cols, Rows: rows, WestX: west, NorthY: north, StepX: step, StepY: step, CRS: crs,
		ElevationM: make([]float32, cols*rows)}
	for r := range rows {
		for c := range cols {
			g.ElevationM[r*cols+c] = float32(f(west+(float64(c)+.5)*step, north-(float64(r)+.5)*step))
		}
	}
	return g
}

func write(t testing.TB, path string, g *terrain.Grid, o WriteOptions) string {
	t.Helper()
	if err := Write(path, g, o); err != nil {
		t.Fatal(err)
	}
	return path
}

func open(t testing.TB, o Options, paths ...string) *Surface {
	t.Helper()
	s, err := Open(context.Background(), paths, o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func sample(t testing.TB, s *Surface, pts []terrain.Point) []terrain.Sample {
	t.Helper()
	out := make([]terrain.Sample, len(pts))
	if err := s.Sample(context.Background(), pts, out); err != nil {
		t.Fatal(err)
	}
	return out
}

func TestSelfTestAndVersion(t *testing.T) {
	if err := SelfTest(); err != nil {
		t.Fatal(err)
	}
	gdal, proj := Version()
	if gdal < "3" || proj < "6" {
		t.Errorf("GDAL %s, PROJ %s", gdal, proj)
	}
}

// Without PROJ's data the self-test says so and names PROJ_DATA. A process of its
// own is needed: PROJ looks once.
func TestSelfTestWithoutData(t *testing.T) {
	if os.Getenv("RASTER_TEST_SELF") == "1" {
		fmt.Println("answer:", SelfTest())
		return
	}
	empty := t.TempDir()
	cmd := exec.Command(os.Args[0], "-test.run=^TestSelfTestWithoutData$")
	cmd.Env = append(os.Environ(), "RASTER_TEST_SELF=1", "PROJ_DATA="+empty, "PROJ_LIB="+empty)
	out, err := cmd.CombinedOutput()
	if err != nil || !strings.Contains(string(out), "answer: PROJ cannot transform") || !strings.Contains(string(out), "PROJ_DATA") {
		t.Errorf("%v\n%s", err, out)
	}
}

// A plane is what bilinear interpolation reproduces exactly; the bound is the
// rounding of stored 32-bit heights (half a unit in the last place at 1,500 m).
func TestPlaneInGeographicCRS(t *testing.T) {
	f := func(x, y float64) float64 { return 1000 + 300*(x+105.5) - 200*(y-40) }
	p := write(t, filepath.Join(t.TempDir(), "plane.tif"), grid("EPSG:4326", -106, 41, .01, 100, 80, f), WriteOptions{})
	s := open(t, Options{}, p)
	for _, q := range []terrain.Point{{LonDeg: -105.5, LatDeg: 40.5}, {LonDeg: -105.123456, LatDeg: 40.654321}} {
		got := sample(t, s, []terrain.Point{q})[0]
		if want := f(q.LonDeg, q.LatDeg); got.Miss != terrain.Hit || math.Abs(got.ElevationM-want) > 7e-5 {
			t.Errorf("%v: %+v, want %.6f", q, got, want)
		}
	}
}
