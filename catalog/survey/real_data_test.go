package survey_test

import (
	"archive/zip"
	"context"
	"encoding/binary"
	"io"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog/survey"
	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// packaged finds files that a Debian package carries.
func packaged(t *testing.T, pkg string, names ...string) []string {
	t.Helper()
	out, err := exec.Command("dpkg", "-L", pkg).Output()
	if err != nil {
		t.Fatalf("the package %s is needed: %v", pkg, err)
	}
	var found []string
	for _, name := range names {
		for _, l := range strings.Split(string(out), "\n") {
			if strings.HasSuffix(l, "/"+name) {
				found = append(found, l)
			}
		}
	}
	if len(found) != len(names) {
		t.Fatalf("%s has %v, want %v", pkg, found, names)
	}
	return found
}

// tennessee is the real terrain of Debian's python-matplotlib-data: 3 seconds of
// arc around Caryville, row 0 at the north. The stored ymin has a slip of sign; the
// box is 36.15958 to 36.44625 N, 84.41375 to 84.07792 W (second-hand: worked out
// from the file's own steps and the peaks).
func tennessee(t *testing.T) terrain.Surface {
	t.Helper()
	z, err := zip.OpenReader(packaged(t, "python-matplotlib-data", "jacksboro_fault_dem.npz")[0])
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	f, err := z.Open("elevation.npy")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	b, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	// NumPy Enhancement Proposal 1, version 1.0: magic, the header's length, the header, the values.
	const rows, cols = 344, 403
	start := 10 + int(binary.LittleEndian.Uint16(b[8:]))
	if head := string(b[10:start]); !strings.Contains(head, "'<i2'") || !strings.Contains(head, "(344, 403)") || len(b) != start+2*rows*cols {
		t.Fatalf("elevation.npy: %s, %d bytes", head, len(b))
	}
	const west, east, south, north = -84.41375, -84.07792, 36.15958, 36.44625
	g := &terrain.Grid{Cols: cols, Rows: rows, WestX: west, NorthY: north, StepX: (east - west) / cols, StepY: (north - south) / rows,
		CRS: "EPSG:4326", ElevationM: make([]float32, rows*cols)}
	for i := range g.ElevationM {
		g.ElevationM[i] = float32(int16(binary.LittleEndian.Uint16(b[start+2*i:])))
	}
	path := filepath.Join(t.TempDir(), "tennessee.tif")
	if err := raster.Write(path, g, raster.WriteOptions{Int16: true}); err != nil {
		t.Fatal(err)
	}
	return openReal(t, path)
}

// sanFrancisco is the real terrain of Debian's python-osmnx-doc: two overlapping
// tiles of one second of arc, of radar heights with roofs in them.
func sanFrancisco(t *testing.T) terrain.Surface {
	t.Helper()
	return openReal(t, packaged(t, "python-osmnx-doc", "elevation1.tif", "elevation2.tif")...)
}

func openReal(t *testing.T, paths ...string) terrain.Surface {
	t.Helper()
	s, err := raster.Open(context.Background(), paths, raster.Options{VertUnit: terrain.Metre})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// realLines reads the typed lines by their identifiers.
func realLines(t *testing.T, file string) map[string]routes.Route {
	t.Helper()
	var features []routes.Feature
	skipped, err := vector.Read(context.Background(), filepath.Join("testdata", "real", file), vector.Options{}, func(f routes.Feature) error {
		features = append(features, f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	rs, more := stationing.Assemble(features)
	if len(skipped)+len(more) > 0 {
		t.Fatal(skipped, more)
	}
	byID := map[string]routes.Route{}
	for _, r := range rs {
		byID[r.ID] = r
	}
	return byID
}

// surveyReal surveys one of the lines.
func surveyReal(t *testing.T, s terrain.Surface, lines map[string]routes.Route, id string, o survey.Options) survey.Result {
	t.Helper()
	r, ok := lines[id]
	if !ok {
		t.Fatalf("no line %q", id)
	}
	res := survey.One(context.Background(), s, &r, o)
	if res.Err != nil {
		t.Fatal(id, res.Err)
	}
	return res
}

// heightM is the surface's height at one place.
func heightM(t *testing.T, s terrain.Surface, latDeg, lonDeg float64) float64 {
	t.Helper()
	out := make([]terrain.Sample, 1)
	if err := s.Sample(context.Background(), []terrain.Point{{LonDeg: lonDeg, LatDeg: latDeg}}, out); err != nil {
		t.Fatal(err)
	}
	if out[0].Miss != terrain.Hit {
		t.Fatalf("%g N %g E: %v", latDeg, lonDeg, out[0].Miss)
	}
	return out[0].ElevationM
}
