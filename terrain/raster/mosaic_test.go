package raster

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"gradeline/terrain"
)

// A plane in a projected CRS comes back exact but for the rounding of the stored
// 32-bit heights (6.1e-5 m at 1,024 to 2,048 m) and 0.1 mm of place on its slope.
func TestPlaneInProjectedCRSIsExact(t *testing.T) {
	plane := func(x, y float64) float64 { return 1200 + .05*(x-500000) - .03*(y-4400000) }
	g := grid("EPSG:26913", 498000, 4402000, 10, 400, 400, plane)
	for _, isCubic := range []bool{false, true} {
		s := open(t, Options{Cubic: isCubic}, write(t, filepath.Join(t.TempDir(), "p.tif"), g, WriteOptions{}))
		const seed = 3
		pts := randomPoints(rand.New(rand.NewPCG(seed, 3)), 8000, -105.026, 39.729, -104.974, 39.771)
		xy := gdalTransform(t, "EPSG:26913", pts)
		rim := 0
		for i, got := range sample(t, s, pts) {
			inset := 5.0
			if isCubic {
				inset = 15
			}
			x, y := xy[i][0], xy[i][1]
			inside := x > 498000+inset && x < 502000-inset && y > 4398000+inset && y < 4402000-inset
			if inside != (got.Miss == terrain.Hit) {
				t.Fatalf("seed %d, cubic %v: %v (%f, %f) is %v", seed, isCubic, pts[i], x, y, got.Miss)
			}
			if !inside && x > 498000 && x < 502000 && y > 4398000 && y < 4402000 {
				rim++
			}
			if !inside && (got.Miss != terrain.Outside || got.Source != -1 || got.CellM != 0) {
				t.Fatalf("seed %d, cubic %v: %v is %+v", seed, isCubic, pts[i], got)
			}
			if inside && math.Abs(got.ElevationM-plane(x, y)) > 8e-5 {
				t.Fatalf("seed %d, cubic %v: %v: %.6f, want %.6f", seed, isCubic, pts[i], got.ElevationM, plane(x, y))
			}
			if inside && math.Abs(float64(got.CellM)-10) > .01 {
				t.Fatalf("cell of %g m on the ground", got.CellM)
			}
		}
		if rim < 10 {
			t.Errorf("only %d points in the outermost half cells", rim)
		}
	}
}

// tilesOf cuts a grid into tiles whose neighbours share `shared` rows and columns.
func tilesOf(t testing.TB, dir string, g *terrain.Grid, n, shared int, o WriteOptions) {
	t.Helper()
	w, h := (g.Cols-shared)/n, (g.Rows-shared)/n
	for ty := range n {
		for tx := range n {
			p := &terrain.Grid{Cols: w + shared, Rows: h + shared, WestX: g.WestX + float64(tx*w)*g.StepX, NorthY: g.NorthY - float64(ty*h)*g.StepY,
				StepX: g.StepX, StepY: g.StepY, CRS: g.CRS}
			for r := range p.Rows {
				at := (ty*h+r)*g.Cols + tx*w
				p.ElevationM = append(p.ElevationM, g.ElevationM[at:at+p.Cols]...)
			}
			write(t, filepath.Join(dir, fmt.Sprintf("t%d_%d.tif", ty, tx)), p, o)
		}
	}
}

// Tiles read like the one raster they were cut from, bit for bit: on seams, at the
// corner of four tiles, with and without shared rows, and so does their VRT. The
// stripped and the tiled twin agree as well.
func TestTilesReadLikeTheWhole(t *testing.T) {
	for _, isCubic := range []bool{false, true} {
		for _, shared := range []int{0, 1, 37} {
			g := grid("EPSG:4326", -105.2, 39.9, 1.0/2048, 600+shared, 600+shared, func(x, y float64) float64 { return hills(x*85000, y*111000) })
			for k := 0; k < len(g.ElevationM); k += 2011 {
				g.ElevationM[k] = nan32
			}
			dir := t.TempDir()
			tiled := []string{"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=32"}
			whole := write(t, filepath.Join(dir, "whole.tif"), g, WriteOptions{Creation: tiled})
			strips := write(t, filepath.Join(dir, "strips.tif"), g, WriteOptions{Creation: []string{"COMPRESS=DEFLATE", "BLOCKYSIZE=5"}})
			folder := filepath.Join(dir, "tiles")
			if err := os.Mkdir(folder, 0o755); err != nil {
				t.Fatal(err)
			}
			tilesOf(t, folder, g, 3, shared, WriteOptions{})
			vrt := filepath.Join(folder, "all.vrt")
			names, err := filepath.Glob(filepath.Join(folder, "*.tif"))
			if err != nil || len(names) != 9 {
				t.Fatal(names, err)
			}
			gdalRun(t, "", "gdalbuildvrt", append([]string{"-q", vrt}, names...)...)

			const seed = 5
			rng := rand.New(rand.NewPCG(seed, uint64(shared)))
			pts := randomPoints(rng, 5000, -105.2, 39.58, -104.88, 39.9)
			for range 3000 { // close to seams
				k := float64(1 + rng.IntN(2))
				pts = append(pts, terrain.Point{LonDeg: -105.2 + (200*k+rng.Float64()*3-1.5)/2048, LatDeg: 39.9 - rng.Float64()*600/2048},
					terrain.Point{LonDeg: -105.2 + rng.Float64()*600/2048, LatDeg: 39.9 - (200*k+rng.Float64()*3-1.5)/2048},
					terrain.Point{LonDeg: -105.2 + (200*k+rng.Float64()*3-1.5)/2048, LatDeg: 39.9 - (200*k+rng.Float64()*3-1.5)/2048})
			}
			want := sample(t, open(t, Options{Cubic: isCubic}, whole), pts)
			hits, voids := 0, 0
			for _, w := range want {
				switch w.Miss {
				case terrain.Hit:
					hits++
				case terrain.Void:
					voids++
				}
			}
			if hits < 10000 || voids < 10 {
				t.Fatalf("%d hits, %d voids", hits, voids)
			}
			for _, paths := range [][]string{{strips}, {folder}, {vrt}, names} {
				s := open(t, Options{Cubic: isCubic}, paths...)
				if len(s.layers) != 1 {
					t.Fatalf("%v: %d mosaics", paths, len(s.layers))
				}
				for i, got := range sample(t, s, pts) {
					if got.Miss != want[i].Miss || math.Float64bits(got.ElevationM) != math.Float64bits(want[i].ElevationM) && got.Miss == terrain.Hit {
						t.Fatalf("seed %d, cubic %v, shared %d, %s, point %d %v: %+v, want %+v", seed, isCubic, shared, paths[0], i, pts[i], got, want[i])
					}
				}
			}
			if s := open(t, Options{}, vrt); len(s.tiles) != 9 || s.tiles[0].VRT {
				t.Errorf("the VRT of plain tiles is read as %d rasters", len(s.tiles))
			}
		}
	}
}

// Two neighbouring HGT tiles share the row of samples on their common degree.
func TestHGTSeam(t *testing.T) {
	dir := t.TempDir()
	f := func(x, y float64) float64 { return math.Round(800 + 100*math.Sin(x*60) + 90*math.Cos(y*75)) }
	const step = 1.0 / 1200
	for _, c := range []struct {
		name     string
		lon, lat float64
	}{{"N39W106.hgt", -106, 39}, {"N39W105.hgt", -105, 39}, {"N38W106.hgt", -106, 38}, {"N38W105.hgt", -105, 38}} {
		write(t, filepath.Join(dir, c.name), grid("EPSG:4326", c.lon-step/2, c.lat+1+step/2, step, 1201, 1201, f), WriteOptions{Format: "SRTMHGT"})
	}
	s := open(t, Options{}, dir)
	if src := s.Sources()[0]; src.CRS != "EPSG:4326" || src.VertUnit != terrain.Metre || src.Driver != "SRTMHGT" || src.VertUnitFrom != "file" {
		t.Errorf("%+v", src)
	}
	var pts []terrain.Point
	for k := -30; k <= 30; k++ { // across the seams and the corner of the four
		o := float64(k) * step / 10
		pts = append(pts, terrain.Point{LonDeg: -105 + o, LatDeg: 39.31234}, terrain.Point{LonDeg: -105.4321, LatDeg: 39 + o},
			terrain.Point{LonDeg: -105 + o, LatDeg: 39 + o/2})
	}
	for i, got := range sample(t, s, pts) {
		p := pts[i]
		u, v := (p.LonDeg+107)/step, (p.LatDeg-37)/step
		c, r := math.Floor(u+1e-7), math.Floor(v+1e-7)
		fx, fy := math.Max(0, u-c), math.Max(0, v-r)
		at := func(dc, dr float64) float64 { return f(-107+(c+dc)*step, 37+(r+dr)*step) }
		want := at(0, 0)*(1-fx)*(1-fy) + at(1, 0)*fx*(1-fy) + at(0, 1)*(1-fx)*fy + at(1, 1)*fx*fy
		if got.Miss != terrain.Hit || math.Abs(got.ElevationM-want) > 1e-5 {
			t.Fatalf("%v: %+v, want %f", p, got, want)
		}
	}
	// On the outermost samples a point is still inside, half a cell out it isn't.
	edge := sample(t, s, []terrain.Point{{LonDeg: -106, LatDeg: 40}, {LonDeg: -104, LatDeg: 38}, {LonDeg: -106 - step/4, LatDeg: 39.5}})
	if edge[0].Miss != terrain.Hit || edge[1].Miss != terrain.Hit || edge[2].Miss != terrain.Outside || edge[2].Source != -1 || edge[2].CellM != 0 {
		t.Errorf("%+v", edge)
	}
}

// Where two rasters of one grid overlap and differ, the first given wins, for any
// order of the points; its voids are filled by the second.
func TestFirstGivenWins(t *testing.T) {
	dir := t.TempDir()
	a, b := flat(1000), flat(2000)
	b.WestX -= 110 // covers the west, and 9 of 20 columns of a
	a.ElevationM[10*20+3] = nan32
	fa, fb := write(t, filepath.Join(dir, "a.tif"), a, WriteOptions{}), write(t, filepath.Join(dir, "b.tif"), b, WriteOptions{})
	var pts []terrain.Point
	for k := range 240 {
		pts = append(pts, terrain.Point{LonDeg: -105.0019 + float64(k)*1.1e-5, LatDeg: 39.7497})
	}
	slices.Reverse(pts)
	forward := slices.Clone(pts)
	slices.Reverse(forward)
	for _, c := range []struct {
		paths       []string
		seam        float64 // x west of which b's values count
		west, east  float64
		acrossCells float64
	}{{[]string{fa, fb}, 499905, 2000, 1000, 10}, {[]string{fb, fa}, 499995, 2000, 1000, 10}} {
		s := open(t, Options{}, c.paths...)
		if len(s.layers) != 1 {
			t.Fatal("not one mosaic")
		}
		back := sample(t, s, pts)
		slices.Reverse(back)
		if i := sameSamples(back, sample(t, s, forward)); i >= 0 {
			t.Errorf("point %d depends on the order", i)
		}
		for i, xy := range gdalTransform(t, "EPSG:26913", forward) {
			want := c.east
			switch x := xy[0]; {
			case x < c.seam-c.acrossCells:
				want = c.west
			case x < c.seam:
				want = c.west + (c.east-c.west)*(x-c.seam+c.acrossCells)/c.acrossCells
			}
			hole := c.seam < 500000 && math.Abs(xy[0]-499935) < 10 && math.Abs(xy[1]-4399995) < 10
			if hole { // a's void takes b's value there
				want = back[i].ElevationM
				if want < 1000 || want > 2000 {
					t.Errorf("%g in the hole", want)
				}
			}
			if back[i].Miss != terrain.Hit || math.Abs(back[i].ElevationM-want) > .01 {
				t.Fatalf("%v, x %.2f: %+v, want %g", c.paths, xy[0], back[i], want)
			}
		}
	}
}

// Rasters of one grid that lie over each other by more than half are two observations
// of that ground, each a mosaic; what lies beside them is a tile of the first. Sources
// of a VRT stay one.
func TestObservationsOfOneGridAreMosaics(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		moved float64
		want  int
	}{{0, 2}, {90, 2}, {100, 1}, {110, 1}, {200, 1}} {
		a, b := flat(1000), flat(1001)
		b.WestX -= c.moved
		fa, fb := write(t, filepath.Join(dir, "a.tif"), a, WriteOptions{}), write(t, filepath.Join(dir, "b.tif"), b, WriteOptions{})
		s := open(t, Options{}, fa, fb)
		if len(s.layers) != c.want || s.Mosaic(1) != c.want-1 || len(s.Peers(0)) != c.want-1 || s.Mosaic(-1) != -1 {
			t.Errorf("moved by %g m: %d mosaics", c.moved, len(s.layers))
		}
		vrt := filepath.Join(dir, "both.vrt")
		gdalRun(t, "", "gdalbuildvrt", "-q", "-overwrite", vrt, fa, fb)
		if v := open(t, Options{}, vrt); len(v.layers) != 1 {
			t.Errorf("moved by %g m: %d mosaics of a VRT", c.moved, len(v.layers))
		}
	}
	finer := grid("EPSG:26913", 499900, 4400100, 7, 30, 30, func(x, y float64) float64 { return 1000 })
	s := open(t, Options{}, filepath.Join(dir, "a.tif"), write(t, filepath.Join(dir, "finer.tif"), finer, WriteOptions{}))
	if len(s.layers) != 2 || len(s.Peers(0)) != 0 || len(s.Peers(5)) != 0 || s.MosaicDatum(1) != "unknown" {
		t.Errorf("%d mosaics, peers %v", len(s.layers), s.Peers(0))
	}
	z := make([]float64, 1)
	if err := s.SampleMosaic(context.Background(), 1, []terrain.Point{inFlat}, z); err != nil || z[0] != 1001 && z[0] != 1000 {
		t.Errorf("%v, %v", z, err)
	}
	if err := s.SampleMosaic(context.Background(), 2, []terrain.Point{inFlat}, z); err == nil {
		t.Error("a mosaic that is not there")
	}
}

// A void in the finer raster falls through to the coarser; in both it is a Void.
func TestFineOverCoarse(t *testing.T) {
	dir := t.TempDir()
	fine := grid("EPSG:26913", 499000, 4401000, 10, 200, 200, func(x, y float64) float64 { return 1000 })
	coarse := grid("EPSG:4326", -105.1, 39.8, 1.0/1200, 240, 240, func(x, y float64) float64 { return 2000 })
	put := func(g *terrain.Grid, c0, c1 int) {
		for r := range g.Rows {
			for c := c0; c < c1; c++ {
				g.ElevationM[r*g.Cols+c] = nan32
			}
		}
	}
	put(fine, 100, 200)
	put(coarse, 121, 125)
	// The finer one is given last.
	s := open(t, Options{}, write(t, filepath.Join(dir, "coarse.tif"), coarse, WriteOptions{}), write(t, filepath.Join(dir, "fine.tif"), fine, WriteOptions{}))
	if src := s.Sources(); src[0].Name != "fine.tif" || math.Abs(src[0].CellM-10) > .01 || src[1].CellM < 75 || src[1].CellM > 90 {
		t.Fatalf("%+v", src)
	}
	lat := 39.745
	got := sample(t, s, []terrain.Point{{LonDeg: -105.005, LatDeg: lat}, {LonDeg: -105.0003, LatDeg: lat}, {LonDeg: -104.998, LatDeg: lat},
		{LonDeg: -104.994, LatDeg: lat}, {LonDeg: -105.05, LatDeg: lat}, {LonDeg: -105.2, LatDeg: lat}})
	for i, want := range []struct {
		miss   terrain.Miss
		height float64
		source int16
	}{{terrain.Hit, 1000, 0}, {terrain.Hit, 1000, 0}, {terrain.Void, math.NaN(), 0}, {terrain.Hit, 2000, 1}, {terrain.Hit, 2000, 1}, {terrain.Outside, math.NaN(), -1}} {
		g := got[i]
		same := g.ElevationM == want.height || math.IsNaN(g.ElevationM) && math.IsNaN(want.height)
		if g.Miss != want.miss || !same || g.Source != want.source {
			t.Errorf("point %d: %+v, want %+v", i, g, want)
		}
	}
}
