package raster

import (
	"archive/zip"
	"bufio"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gradeline/terrain"
)

// npy reads a two-dimensional little-endian 16-bit array out of an .npz archive
// (NumPy Enhancement Proposal 1, "A simple file format for NumPy arrays", version 1.0).
func npy(t *testing.T, archive, name string) (rows, cols int, values []int16) {
	t.Helper()
	z, err := zip.OpenReader(archive)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := bufio.NewReader(f)
	head := make([]byte, 10)
	if _, err := io.ReadFull(r, head); err != nil || string(head[:8]) != "\x93NUMPY\x01\x00" {
		t.Fatalf("%q %v", head, err)
	}
	text := make([]byte, binary.LittleEndian.Uint16(head[8:]))
	if _, err := io.ReadFull(r, text); err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`'shape': \((\d+), (\d+)\)`).FindSubmatch(text)
	if m == nil || !strings.Contains(string(text), "'<i2'") || !strings.Contains(string(text), "'fortran_order': False") {
		t.Fatalf("%s", text)
	}
	rows, _ = strconv.Atoi(string(m[1]))
	cols, _ = strconv.Atoi(string(m[2]))
	values = make([]int16, rows*cols)
	if err := binary.Read(r, binary.LittleEndian, values); err != nil {
		t.Fatal(err)
	}
	return rows, cols, values
}

// jacksboro is the real terrain that Debian's python-matplotlib-data carries: 3
// seconds of arc, the Cumberland Mountains of Tennessee, row 0 at the north. The
// stored ymin has a slip of sign; the box used is 36.15958 to 36.44625 N, 84.41375
// to 84.07792 W (second-hand: worked out from the file's own dx, dy and the peaks).
func jacksboro(t *testing.T) *terrain.Grid {
	t.Helper()
	out, err := exec.Command("dpkg", "-L", "python-matplotlib-data").Output()
	if err != nil {
		t.Fatalf("the package python-matplotlib-data is needed: %v", err)
	}
	file := ""
	for _, l := range strings.Split(string(out), "\n") {
		if strings.HasSuffix(l, "jacksboro_fault_dem.npz") {
			file = l
		}
	}
	rows, cols, v := npy(t, file, "elevation.npy")
	if rows != 344 || cols != 403 {
		t.Fatalf("%d x %d", rows, cols)
	}
	const west, east, south, north = -84.41375, -84.07792, 36.15958, 36.44625
	g := &terrain.Grid{Cols: cols, Rows: rows, WestX: west, NorthY: north, StepX: (east - west) / float64(cols), StepY: (north - south) / float64(rows),
		CRS: "EPSG:4326", ElevationM: make([]float32, rows*cols)}
	for i := range v {
		g.ElevationM[i] = float32(v[i])
	}
	return g
}

// The highest cell is Cross Mountain: 1,076 m against the published 1,077 m (3,534
// ft; second-hand), near 36.2 N 84.2 W. Cells are 3 seconds: 92.5 m north, 74.6 m
// east at 36.3 N (computed with Snyder's radii).
func TestRealTerrain(t *testing.T) {
	g := jacksboro(t)
	for _, o := range []WriteOptions{{Int16: true}, {Format: "COG", Int16: true}, {}} {
		s := open(t, Options{}, write(t, filepath.Join(t.TempDir(), "jacksboro.tif"), g, o))
		var pts []terrain.Point
		for r := range g.Rows {
			for c := range g.Cols {
				pts = append(pts, terrain.Point{LonDeg: g.WestX + (float64(c)+.5)*g.StepX, LatDeg: g.NorthY - (float64(r)+.5)*g.StepY})
			}
		}
		top, at := 0.0, 0
		for i, got := range sample(t, s, pts) {
			// 1e-5: a cell centre computed here and there may differ by 1e-9 cells.
			if got.Miss != terrain.Hit || math.Abs(got.ElevationM-float64(g.ElevationM[i])) > 1e-5 {
				t.Fatalf("%v: %+v, want %g", pts[i], got, g.ElevationM[i])
			}
			if got.ElevationM > top {
				top, at = got.ElevationM, i
			}
			if math.Abs(float64(got.CellM)-(92.5+74.8)/2) > .6 {
				t.Fatalf("%v: cell %g m", pts[i], got.CellM)
			}
		}
		if math.Abs(top-1076) > .01 || math.Abs(top-1077) > 1.5 || math.Abs(pts[at].LatDeg-36.2) > .1 || math.Abs(pts[at].LonDeg+84.2) > .1 {
			t.Errorf("highest %g m at %v", top, pts[at])
		}
	}
}

// The same terrain warped to UTM by gdalwarp (bilinear, 30 m) reads like the
// original read through its own CRS, but for being interpolated twice: half of the
// points within half a metre.
func TestRealTerrainReprojected(t *testing.T) {
	g := jacksboro(t)
	dir := t.TempDir()
	geo := write(t, filepath.Join(dir, "geo.tif"), g, WriteOptions{})
	utm := filepath.Join(dir, "utm.tif")
	gdalRun(t, "", "gdalwarp", "-q", "-t_srs", "EPSG:32616", "-tr", "30", "30", "-r", "bilinear", "-dstnodata", "-9999", geo, utm)
	pts := winding(3000, -84.40, 36.17, .25, 3e-4)
	a := sample(t, open(t, Options{}, geo), pts)
	b := sample(t, open(t, Options{VertUnit: terrain.Metre}, utm), pts)
	var sum, worst float64
	close := 0
	for i := range a {
		if a[i].Miss != terrain.Hit || b[i].Miss != terrain.Hit {
			t.Fatalf("%v: %+v %+v", pts[i], a[i], b[i])
		}
		d := b[i].ElevationM - a[i].ElevationM
		sum += d
		worst = math.Max(worst, math.Abs(d))
		if math.Abs(d) < .5 {
			close++
		}
	}
	msg := fmt.Sprintf("mean %.3f m, worst %.2f m, %d of %d within 0.5 m", sum/float64(len(a)), worst, close, len(a))
	if math.Abs(sum/float64(len(a))) > .1 || worst > 8 || close < len(a)/2 {
		t.Error(msg)
	}
	t.Log(msg)
}
