package raster

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain"
)

// patchGrid is cols by rows cells of 10 m: f at cell (c, r).
func patchGrid(cols, rows int, f func(c, r int) float64) *terrain.Grid {
	g := grid("EPSG:26913", 500000, 4400000, 10, cols, rows, func(x, y float64) float64 { return 0 })
	for k := range g.ElevationM {
		g.ElevationM[k] = float32(f(k%cols, k/cols))
	}
	return g
}

// cellPoint is the centre of a cell of patchGrid, from EPSG:26913 by the local scale
// at its corner; good to a tenth of a cell over 4 km.
func cellPoint(t *testing.T, s *Surface, c, r float64) terrain.Point {
	t.Helper()
	// The surface itself says where a cell lies: search by bisection on its pixels.
	l := s.layers[0]
	lon, lat := -105.0, 39.75
	for range 20 {
		sc := new(scratch)
		sc.idx = []int32{0}
		sc.resize(1)
		l.project([]terrain.Point{{LonDeg: lon, LatDeg: lat}}, sc)
		lon += (c - sc.u[0]) * 10 / 85600
		lat -= (r - sc.v[0]) * 10 / 111000
	}
	return terrain.Point{LonDeg: lon, LatDeg: lat}
}

func honest(seed uint64, sigmaM float64) func(c, r int) float64 {
	return func(c, r int) float64 {
		g := rand.New(rand.NewPCG(seed, uint64(c)<<32|uint64(r)))
		return sigmaM * g.NormFloat64()
	}
}

// What a patch of one height is told apart as.
func TestPatchKinds(t *testing.T) {
	noise := honest(1, .2)
	hills := func(c, r int) float64 {
		return 1400 + 30*math.Sin(float64(c)/15) + 30*math.Cos(float64(r)/17) + noise(c, r)
	}
	isLake := func(c, r int) bool {
		a := math.Atan2(float64(r-100), float64(c-100))
		return math.Hypot(float64(c-100), float64(r-100)) < 45+12*math.Sin(3*a)+7*math.Sin(7*a)
	}
	round := func(f func(c, r int) float64) func(c, r int) float64 {
		return func(c, r int) float64 { return math.Round(f(c, r)) }
	}
	box := func(v float64, f func(c, r int) float64) func(c, r int) float64 {
		return func(c, r int) float64 {
			if c >= 64 && c < 128 && r >= 64 && r < 128 {
				return v
			}
			return f(c, r)
		}
	}
	tiled := WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64"}}
	for _, c := range []struct {
		name string
		f    func(c, r int) float64
		o    WriteOptions
		want terrain.PatchKind
	}{
		{"a little more than zero in a block", box(.5, hills), tiled, terrain.PatchFiller},
		{"a constant in a block of a lowland", box(1400, hills), tiled, terrain.PatchFiller},
		{"a box that is no block", func(c, r int) float64 {
			if c >= 70 && c < 131 && r >= 70 && r < 131 {
				return 1400
			}
			return hills(c, r)
		}, WriteOptions{}, terrain.PatchFiller},
		{"all zero", func(c, r int) float64 { return 0 }, tiled, terrain.PatchFiller},
		{"all one height", func(c, r int) float64 { return 812.5 }, tiled, terrain.PatchFiller},
		{"all within a denormal of zero", func(c, r int) float64 { return 1e-40 * float64(c%7) }, tiled, terrain.PatchFiller},
		{"all one height, whole metres", func(c, r int) float64 { return 812 }, WriteOptions{Int16: true}, terrain.PatchFiller},
		{"one height but for a few", func(c, r int) float64 { return 812 + float64(c*r%9973/9972) }, WriteOptions{Int16: true}, terrain.PatchFiller},
		{"lake", func(c, r int) float64 {
			if isLake(c, r) {
				return 1402.37
			}
			return 1403 + math.Abs(hills(c, r)-1400)
		}, WriteOptions{}, terrain.PatchBasin},
		{"plain in whole metres", round(func(c, r int) float64 {
			return 100.2 + float64(c)/400 + .5*math.Sin(float64(c)/60)*math.Cos(float64(r)/50) + .05*noise(c, r)
		}), WriteOptions{Int16: true}, terrain.PatchPlain},
		{"plain in whole metres as floats", round(func(c, r int) float64 {
			return 100.2 + float64(c)/400 + .5*math.Sin(float64(c)/60)*math.Cos(float64(r)/50) + .05*noise(c, r)
		}), WriteOptions{}, terrain.PatchPlain},
		{"even slope in whole metres", round(func(c, r int) float64 { return 100.2 + float64(c)/70 }), WriteOptions{Int16: true}, terrain.PatchPlain},
		{"polder at 0 in whole metres", round(func(c, r int) float64 { return noise(c/12, r/9) + .35*math.Sin(float64(c)/40) }), WriteOptions{Int16: true}, terrain.PatchPlain},
		{"zero blocks in a polder of whole metres", round(box(0, func(c, r int) float64 { return 1 + noise(c/12, r/9) })),
			WriteOptions{Int16: true, Creation: tiled.Creation}, terrain.PatchFiller},
	} {
		g := patchGrid(200, 200, c.f)
		s := open(t, Options{}, write(t, filepath.Join(t.TempDir(), "x.tif"), g, c.o))
		got, err := s.Patch(context.Background(), cellPoint(t, s, 100, 100), 0)
		if err != nil || got.Kind != c.want {
			t.Errorf("%s: %+v, %v; want %s", c.name, got, err, c.want)
		}
		flat := open(t, Options{FlatIsGround: true}, filepath.Join(filepath.Dir(s.tiles[0].path), "x.tif"))
		if got, err := flat.Patch(context.Background(), cellPoint(t, flat, 100, 100), 0); err != nil || got.Kind != terrain.PatchPlain {
			t.Errorf("%s, flat is ground: %+v, %v", c.name, got, err)
		}
	}
}

// Each bound of the judgement stands where it is: a patch just beyond it is judged the
// other way.
func TestPatchBounds(t *testing.T) {
	edges := func(n, near, inLine int, isBlock bool) *patchFinder {
		f := &patchFinder{}
		for i := range n {
			e := borderEdge{isVertical: true, line: int64(1000 + 2*i), at: int64(i), isBlock: isBlock && i < inLine}
			if i < inLine {
				e.line = 7
			}
			f.edges = append(f.edges, e)
			f.near = append(f.near, map[bool]float32{true: 1.4, false: 9}[i >= n-near])
		}
		return f
	}
	p := terrain.Patch{Cells: 10_000} // a border of 50 at least
	for _, c := range []struct {
		name string
		f    *patchFinder
		p    terrain.Patch
		step float64
		want terrain.PatchKind
	}{
		{"border as short as a scatter's", edges(49, 49, 0, false), p, 1, terrain.PatchFiller},
		{"border long enough", edges(51, 51, 0, false), p, 1, terrain.PatchPlain},
		{"59 % near", edges(100, 59, 0, false), p, 1, terrain.PatchBasin},
		{"61 % near", edges(100, 61, 0, false), p, 1, terrain.PatchPlain},
		{"near by a smaller step", edges(100, 100, 0, false), p, .9, terrain.PatchBasin},
		{"continuous", edges(100, 100, 0, false), p, 0, terrain.PatchBasin},
		{"49 % at blocks", edges(100, 100, 49, true), p, 1, terrain.PatchPlain},
		{"51 % at blocks", edges(100, 100, 51, true), p, 1, terrain.PatchFiller},
		{"49 % straight", edges(100, 0, 49, false), p, 0, terrain.PatchBasin},
		{"51 % straight", edges(100, 0, 51, false), p, 0, terrain.PatchFiller},
		{"19 cells straight", edges(30, 0, 19, false), terrain.Patch{Cells: 900}, 0, terrain.PatchBasin},
		{"20 cells straight", edges(30, 0, 20, false), terrain.Patch{Cells: 900}, 0, terrain.PatchFiller},
		{"cut, plain border", edges(100, 100, 0, false), terrain.Patch{Cells: 10_000, IsCut: true}, 1, terrain.PatchBasin},
	} {
		if got := c.f.kind(c.p, c.step); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// Blocks that a file does not store are voids, whatever packs them; with
// FlatIsGround they are the 0 that GDAL reads.
func TestUnstoredBlocksAreVoids(t *testing.T) {
	for _, packing := range []string{"NONE", "DEFLATE", "LZW"} {
		for _, layout := range [][]string{{"TILED=YES", "BLOCKXSIZE=64", "BLOCKYSIZE=64"}, {"BLOCKYSIZE=1"}, {"TILED=YES", "BLOCKXSIZE=256", "BLOCKYSIZE=256"}} {
			noise := honest(2, .3)
			g := patchGrid(512, 512, func(c, r int) float64 {
				if r >= 256 {
					return 0
				}
				return 900 + float64(c)/3 + noise(c, r)
			})
			full := write(t, filepath.Join(t.TempDir(), "full.tif"), g, WriteOptions{NoData: -9999})
			sparse := filepath.Join(filepath.Dir(full), "sparse.tif")
			args := []string{"-q", "-a_nodata", "none", "-co", "SPARSE_OK=TRUE", "-co", "COMPRESS=" + packing}
			for _, l := range layout {
				args = append(args, "-co", l)
			}
			gdalRun(t, "", "gdal_translate", append(args, full, sparse)...)
			name := fmt.Sprint(packing, layout)
			s := open(t, Options{}, sparse)
			ground, gone := cellPoint(t, s, 100, 100), cellPoint(t, s, 100, 400)
			got := sample(t, s, []terrain.Point{ground, gone})
			if got[0].Miss != terrain.Hit || got[1].Miss != terrain.Void {
				t.Errorf("%s: %+v", name, got)
			}
			if w := strings.Join(s.Warnings(), " "); !strings.Contains(w, "lacks blocks") {
				t.Errorf("%s: warnings %q", name, w)
			}
			flat := open(t, Options{FlatIsGround: true}, sparse)
			if got := sample(t, flat, []terrain.Point{gone})[0]; got.Miss != terrain.Hit || got.ElevationM != 0 {
				t.Errorf("%s, flat is ground: %+v", name, got)
			}
		}
	}
}

// A patch goes on across tiles; fillers are read without, and what lies below shows.
func TestSampleWithoutFillers(t *testing.T) {
	noise := honest(3, .2)
	fine := patchGrid(200, 200, func(c, r int) float64 {
		if c >= 60 && c < 140 {
			return 555
		}
		return 1200 + noise(c, r)
	})
	dir := t.TempDir()
	tilesOf(t, dir, fine, 2, 0, WriteOptions{})
	coarse := grid("EPSG:26913", 499000, 4401000, 50, 100, 100, func(x, y float64) float64 { return 1190 })
	path := write(t, filepath.Join(t.TempDir(), "coarse.tif"), coarse, WriteOptions{})
	s := open(t, Options{}, dir, path)
	at := cellPoint(t, s, 100, 98)
	before := sample(t, s, []terrain.Point{at})
	p, err := s.Patch(context.Background(), at, before[0].Source)
	if err != nil || p.Cells != 80*200 || p.Kind != terrain.PatchFiller || p.ElevationM != 555 {
		t.Fatalf("%+v, %v", p, err)
	}
	out := make([]terrain.Sample, 3)
	points := []terrain.Point{at, cellPoint(t, s, 59.5, 98), cellPoint(t, s, 30, 98)} // inside, mixed with it, clear of it
	if err := s.SampleWithout(context.Background(), points, out, []terrain.Filler{p.Filler}); err != nil {
		t.Fatal(err)
	}
	if math.Abs(out[0].ElevationM-1190) > .01 || math.Abs(out[1].ElevationM-1190) > .01 || math.Abs(out[2].ElevationM-1200) > 1.5 {
		t.Errorf("%+v", out)
	}
	if after := sample(t, s, []terrain.Point{at}); after[0] != before[0] {
		t.Errorf("a later call reads %+v", after[0])
	}
	if w := strings.Join(s.Warnings(), " "); !strings.Contains(w, "exactly 555") || !strings.Contains(w, "--flat-is-ground") {
		t.Errorf("warnings %q", w)
	}
	for _, bad := range []int16{-1, 5} {
		if _, err := s.Patch(context.Background(), at, bad); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("source %d: %v", bad, err)
		}
		if err := s.SampleWithout(context.Background(), points, out, []terrain.Filler{{Source: bad}}); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("source %d: %v", bad, err)
		}
	}
}

// Values of 8 bits are a picture until somebody says that they are heights.
func TestEightBitsNeedTheirUnit(t *testing.T) {
	full := write(t, filepath.Join(t.TempDir(), "full.tif"), flat(150), WriteOptions{})
	path := filepath.Join(filepath.Dir(full), "byte.tif")
	gdalRun(t, "", "gdal_translate", "-q", "-ot", "Byte", full, path)
	wantFault(t, openFault(path), terrain.ErrUnit, "byte.tif", "8 bits", "--vertical-unit")
	s := open(t, Options{VertUnit: terrain.Metre}, path)
	if got := sample(t, s, []terrain.Point{inFlat})[0]; got.Miss != terrain.Hit || got.ElevationM != 150 {
		t.Errorf("%+v", got)
	}
}

// A window is nought throughout, or it is not; what stands outside it does not count.
func TestWhatIsNoughtThroughout(t *testing.T) {
	buf := make([]float32, 5*4) // rows of 5
	buf[0], buf[1*5+4], buf[3*5+2] = 7, 7, nan32
	for _, k := range []struct {
		x0, y0, x1, y1 int64
		want           bool
	}{{1, 0, 4, 3, true}, {0, 0, 4, 3, false}, {1, 0, 5, 3, false}, {1, 0, 4, 4, false}, {0, 1, 4, 3, true}, {4, 2, 5, 4, true}} {
		if got := isZero(buf, 5, k.x0, k.y0, k.x1, k.y1); got != k.want {
			t.Errorf("%+v: %t", k, got)
		}
	}
}
