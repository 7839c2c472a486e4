package raster

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/terrain"
)

func hillsM(x, y float64) float64 { return 1500 + 150*math.Sin(x/700)*math.Cos(y/900) }

// twoSurfaces writes a 10 m raster and, around it, a 3" raster that is offsetM
// higher; the terrain is hilly, so cells alone make differences.
func twoSurfaces(t *testing.T, offsetM float64, spoil func(fine, coarse *terrain.Grid)) (fine, coarse string) {
	t.Helper()
	dir := t.TempDir()
	f := grid("EPSG:26913", 498000, 4402000, 10, 400, 400, hillsM)
	c := grid("EPSG:4326", -105.06, 39.80, 1.0/1200, 144, 120, func(lon, lat float64) float64 { return 0 })
	var at []terrain.Point
	for k := range c.ElevationM {
		at = append(at, terrain.Point{LonDeg: -105.06 + (float64(k%144)+.5)/1200, LatDeg: 39.80 - (float64(k/144)+.5)/1200})
	}
	for k, xy := range gdalTransform(t, "EPSG:26913", at) {
		c.ElevationM[k] = float32(hillsM(xy[0], xy[1]) + offsetM)
	}
	if spoil != nil {
		spoil(f, c)
	}
	return write(t, filepath.Join(dir, "fine.tif"), f, WriteOptions{}), write(t, filepath.Join(dir, "coarse.tif"), c, WriteOptions{})
}

func steps(t *testing.T, s *Surface, places []terrain.Point) []string {
	t.Helper()
	got, err := s.Steps(context.Background(), places)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

// Tiles of one grid that lie over each other are compared too.
func TestStepBetweenTilesOfOneMosaic(t *testing.T) {
	for offsetM, want := range map[float64]int{0: 0, 4: 0, 5: 1, 40: 1} { // 4.5 m is usual for cells of 10 m
		dir := t.TempDir()
		a := write(t, filepath.Join(dir, "a.tif"), grid("EPSG:26913", 498000, 4402000, 10, 400, 400, hillsM), WriteOptions{})
		b := write(t, filepath.Join(dir, "b.tif"), grid("EPSG:26913", 500500, 4402000, 10, 400, 400, func(x, y float64) float64 { return hillsM(x, y) - offsetM }), WriteOptions{})
		s := open(t, Options{}, a, b)
		if len(s.layers) != 1 || !s.HasOverlaps() {
			t.Fatalf("%d mosaics", len(s.layers))
		}
		got := steps(t, s, across())
		if len(got) != want || want == 1 && !strings.HasPrefix(got[0], fmt.Sprintf("a.tif: is %.1f m above b.tif", offsetM)) {
			t.Errorf("%g m: %q", offsetM, got)
		}
	}
}

// across is a line that leaves the fine raster for the coarse one.
func across() (pts []terrain.Point) {
	for k := range 400 {
		pts = append(pts, terrain.Point{LonDeg: -105.02 + float64(k)*1.5e-4, LatDeg: 39.751})
	}
	return pts
}

func TestStepBetweenOverlappingRasters(t *testing.T) {
	hole := func(fine, coarse *terrain.Grid) { // the middle of the overlap is void
		for r := 120; r < 280; r++ {
			for c := 120; c < 280; c++ {
				fine.ElevationM[r*400+c] = nan32
			}
		}
	}
	for _, c := range []struct {
		offsetM float64
		spoil   func(fine, coarse *terrain.Grid)
		want    bool
	}{{25, nil, true}, {-25, nil, true}, {25, hole, true}, {18, nil, true}, {0, nil, false}, {2, nil, false}, {-2, hole, false}} {
		fine, coarse := twoSurfaces(t, c.offsetM, c.spoil)
		for _, workers := range []int{1, 4} {
			s := open(t, Options{Workers: workers}, coarse, fine)
			if got := steps(t, s, nil); len(got) != 0 {
				t.Fatalf("before any height: %q", got)
			}
			sample(t, s, across()[:50])
			if got := steps(t, s, nil); len(got) != 0 {
				t.Errorf("offset %g: only the fine raster gave heights, and %q", c.offsetM, got)
			}
			before := s.cache.decodes
			sample(t, s, across())
			got := steps(t, s, nil)
			if n := s.cache.decodes - before; n > 24 {
				t.Errorf("%d blocks decoded", n)
			}
			if onRoad := steps(t, open(t, Options{Workers: workers}, coarse, fine), across()); len(onRoad) != len(got) || len(got) == 1 && !strings.Contains(onRoad[0], "on the roads") {
				t.Errorf("offset %g: by places alone %q, else %q", c.offsetM, onRoad, got)
			}
			if !c.want {
				if len(got) != 0 {
					t.Errorf("offset %g: %q", c.offsetM, got)
				}
				continue
			}
			word := "below"
			if c.offsetM < 0 {
				word = "above"
			}
			if len(got) != 1 || !strings.HasPrefix(got[0], "fine.tif: is ") || !strings.Contains(got[0], word+" coarse.tif") || !strings.Contains(got[0], "same vertical datum") {
				t.Fatalf("offset %g: %q", c.offsetM, got)
			}
			var m float64
			if _, err := fmt.Sscanf(got[0], "fine.tif: is %f m", &m); err != nil || math.Abs(m-math.Abs(c.offsetM)) > 0.5 {
				t.Errorf("offset %g: %q", c.offsetM, got)
			}
		}
	}
}

// Of a mosaic of many tiles only two lie in the other raster, far down its list.
func TestStepInACornerOfAMosaic(t *testing.T) {
	dir := t.TempDir()
	tilesOf(t, dir, grid("EPSG:26913", 494000, 4406000, 10, 600, 600, func(x, y float64) float64 { return 1500 }), 6, 0, WriteOptions{})
	other := write(t, filepath.Join(t.TempDir(), "other.tif"), grid("EPSG:26913", 499503, 4400703, 30, 200, 200, func(x, y float64) float64 { return 1470 }), WriteOptions{})
	s := open(t, Options{}, dir, other)
	if len(s.layers) != 2 || len(s.tiles) != 37 || len(s.pairs) != 1 {
		t.Fatalf("%d mosaics of %d tiles, %d pairs", len(s.layers), len(s.tiles), len(s.pairs))
	}
	var pts []terrain.Point
	for k := range 400 {
		pts = append(pts, terrain.Point{LonDeg: -105.01 + float64(k)*1e-4, LatDeg: 39.7525})
	}
	sample(t, s, pts)
	if got := steps(t, s, nil); len(got) != 1 || !strings.Contains(got[0], "is 30.0 m above other.tif") {
		t.Errorf("%q", got)
	}
}

// Boxes that only touch, two names of one meridian, and the cap on pairs.
func TestPairsOfMosaics(t *testing.T) {
	if _, ok := meet([4]float64{0, 0, 1, 1}, [4]float64{1, 0, 2, 1}); ok {
		t.Error("boxes that touch overlap")
	}
	if b := box4([4]float64{254, 39, 255, 40}); b != [4]float64{-106, 39, -105, 40} {
		t.Error(b)
	}
	s := &Surface{}
	for k := range 40 {
		s.layers = append(s.layers, &layer{bounds: [4]float64{-106, 39, -105 + float64(k)/100, 40}, datum: "unknown"})
	}
	s.layers[7].remote = true
	s.findPairs()
	if len(s.pairs) != mostPairs || len(s.warn.list()) != 1 {
		t.Errorf("%d pairs, %q", len(s.pairs), s.warn.list())
	}
	for _, p := range s.pairs {
		if p.a == 7 || p.b == 7 || p.a >= p.b {
			t.Errorf("pair of %d and %d", p.a, p.b)
		}
	}
}
