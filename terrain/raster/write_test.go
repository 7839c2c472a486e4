package raster

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/terrain"
)

// What is written is what is read, cell by cell, in each format and type.
func TestWriteReadsBack(t *testing.T) {
	dir := t.TempDir()
	n := 0
	rapid.Check(t, func(r *rapid.T) {
		n++
		g := &terrain.Grid{Cols: rapid.IntRange(1, 40).Draw(r, "cols"), Rows: rapid.IntRange(1, 40).Draw(r, "rows"),
			WestX: rapid.Float64Range(-179, 170).Draw(r, "west"), NorthY: rapid.Float64Range(-70, 80).Draw(r, "north"),
			StepX: 1.0 / rapid.Float64Range(100, 10000).Draw(r, "per degree"), CRS: "EPSG:4326"}
		g.StepY = g.StepX * rapid.Float64Range(.5, 2).Draw(r, "aspect")
		o := WriteOptions{Int16: rapid.Bool().Draw(r, "int16"), Format: rapid.SampledFrom([]string{"", "GTiff", "COG"}).Draw(r, "format"),
			NoData: rapid.SampledFrom([]float32{0, -9999, -32767}).Draw(r, "no-data")}
		for range g.Cols * g.Rows {
			v := float32(rapid.IntRange(-400, 8000).Draw(r, "height"))
			if rapid.IntRange(0, 9).Draw(r, "void") == 0 {
				v = nan32
			}
			g.ElevationM = append(g.ElevationM, v)
		}
		file := filepath.Join(dir, "w.tif")
		if err := Write(file, g, o); err != nil {
			r.Fatal(err)
		}
		s, err := Open(t.Context(), []string{file}, Options{})
		if err != nil {
			r.Fatal(err)
		}
		defer s.Close()
		var pts []terrain.Point
		for i := range g.ElevationM {
			pts = append(pts, terrain.Point{LonDeg: g.WestX + (float64(i%g.Cols)+.5)*g.StepX, LatDeg: g.NorthY - (float64(i/g.Cols)+.5)*g.StepY})
		}
		out := make([]terrain.Sample, len(pts))
		if err := s.Sample(t.Context(), pts, out); err != nil {
			r.Fatal(err)
		}
		for i, got := range out {
			want := g.ElevationM[i]
			if void := want != want; void != (got.Miss == terrain.Void) || !void && math.Abs(got.ElevationM-float64(want)) > 1e-3 {
				r.Fatalf("cell %d: %+v, want %g", i, got, want)
			}
		}
		left, err := os.ReadDir(dir)
		if err != nil || len(left) != 1 {
			r.Fatalf("%v %v", left, err)
		}
	})
}

func TestWriteRefuses(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "x.tif")
	ok := func() *terrain.Grid { return flat(1500) }
	for name, c := range map[string]struct {
		g *terrain.Grid
		o WriteOptions
		p string
	}{
		"short":      {&terrain.Grid{Cols: 3, Rows: 3, StepX: 1, StepY: 1, CRS: "EPSG:4326", ElevationM: make([]float32, 8)}, WriteOptions{}, file},
		"no step":    {&terrain.Grid{Cols: 1, Rows: 1, CRS: "EPSG:4326", ElevationM: make([]float32, 1)}, WriteOptions{}, file},
		"no CRS":     {&terrain.Grid{Cols: 1, Rows: 1, StepX: 1, StepY: 1, ElevationM: make([]float32, 1)}, WriteOptions{}, file},
		"format":     {ok(), WriteOptions{Format: "PNG"}, file},
		"no-data":    {ok(), WriteOptions{NoData: 1500}, file},
		"too high":   {flat(40000), WriteOptions{Int16: true}, file},
		"no integer": {ok(), WriteOptions{Int16: true, NoData: .5}, file},
		"option":     {ok(), WriteOptions{Creation: []string{"COMPRESS=NONSENSE"}}, file},
		"no folder":  {ok(), WriteOptions{}, filepath.Join(dir, "none", "x.tif")},
		"hgt name":   {ok(), WriteOptions{Format: "SRTMHGT"}, file},
	} {
		err := Write(c.p, c.g, c.o)
		if err == nil {
			t.Errorf("%s: written", name)
			continue
		}
		wantFault(t, err, terrain.ErrInput, "x.tif")
	}
	if left, err := os.ReadDir(dir); err != nil || len(left) != 0 {
		t.Errorf("left behind: %v %v", left, err)
	}
	// A failed write leaves the file that was there.
	write(t, file, ok(), WriteOptions{})
	before, _ := os.ReadFile(file)
	if err := Write(file, flat(1), WriteOptions{Creation: []string{"COMPRESS=NONSENSE"}}); err == nil {
		t.Error("written")
	}
	if after, _ := os.ReadFile(file); string(after) != string(before) {
		t.Error("the old file was changed")
	}
}

// gdalinfo agrees on corner, cell, CRS, unit and no-data of what was written.
func TestWrittenHeaderAgainstGdalinfo(t *testing.T) {
	g := flat(1500)
	g.VertDatumLabel = "EPSG:5703"
	file := write(t, filepath.Join(t.TempDir(), "x.tif"), g, WriteOptions{NoData: -9999})
	text := gdalRun(t, "", "gdalinfo", file)
	for _, want := range []string{"Origin = (499900.000000000000000,4400100.000000000000000)", "Pixel Size = (10.000000000000000,-10.000000000000000)",
		`ID["EPSG",26913]`, "NAVD88 height", "Unit Type: m", "NoData Value=-9999", "Type=Float32"} {
		if !strings.Contains(text, want) {
			t.Errorf("gdalinfo lacks %q:\n%s", want, text)
		}
	}
}
