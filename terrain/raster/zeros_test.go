package raster

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/terrain"
)

// zerosAt is 40 by 40 cells of 10 m at the height f, with zeros where isZero says.
func zerosAt(f func(c, r int) float64, isZero func(c, r int) bool) *terrain.Grid {
	g := grid("EPSG:26913", 499800, 4400200, 10, 40, 40, func(x, y float64) float64 { return 0 })
	for k := range g.ElevationM {
		if c, r := k%40, k/40; !isZero(c, r) {
			g.ElevationM[k] = float32(f(c, r))
		}
	}
	return g
}

// A hole filled with exactly 0 m in high ground is a void, with one warning; the sea
// before a coast, low ground, fewer than four cells are left alone.
func TestHolesFilledWithZero(t *testing.T) {
	high := func(c, r int) float64 { return 1500 + float64(c) }
	patch := func(c, r int) bool { return c >= 10 && c < 30 && r >= 12 && r < 28 }
	at := inFlat // near the middle
	for name, c := range map[string]struct {
		g      *terrain.Grid
		o      WriteOptions
		opt    Options
		isVoid bool
		warns  bool
	}{
		"hole":             {g: zerosAt(high, patch), isVoid: true, warns: true},
		"hole, whole":      {g: zerosAt(high, patch), o: WriteOptions{Int16: true}, isVoid: true, warns: true},
		"hole, feet":       {g: zerosAt(func(c, r int) float64 { return 1200 }, patch), opt: Options{VertUnit: terrain.Foot}, isVoid: true, warns: true},
		"low in feet":      {g: zerosAt(func(c, r int) float64 { return 900 }, patch), opt: Options{VertUnit: terrain.Foot}},
		"to the edge":      {g: zerosAt(high, func(c, r int) bool { return c < 30 }), isVoid: true, warns: true},
		"low ground":       {g: zerosAt(func(c, r int) float64 { return 250 }, patch)},
		"fjord with beach": {g: zerosAt(func(c, r int) float64 { return 1500 - 1450*float64(max(0, r-30))/9 }, func(c, r int) bool { return c >= 10 && c < 30 && r < 39 })},
		"sea, cliff coast": {g: zerosAt(func(c, r int) float64 { return 250 + 20*float64(max(0, c-32)) }, func(c, r int) bool { return c < 32 })},
		"sea":              {g: zerosAt(func(c, r int) float64 { return 20 * float64(max(0, c-31)) }, func(c, r int) bool { return c < 32 })},
		"three cells":      {g: zerosAt(high, func(c, r int) bool { return r == 20 && c >= 19 && c < 22 })},
	} {
		s := open(t, c.opt, write(t, filepath.Join(t.TempDir(), "x.tif"), c.g, c.o))
		got := sample(t, s, []terrain.Point{at})[0]
		if isVoid := got.Miss == terrain.Void; isVoid != c.isVoid || !isVoid && got.Miss != terrain.Hit {
			t.Errorf("%s: %+v", name, got)
		}
		warned := 0
		for _, w := range s.Warnings() {
			if strings.Contains(w, "exactly 0 m") {
				warned++
			}
		}
		if want := map[bool]int{true: 1}[c.warns]; warned != want {
			t.Errorf("%s: warnings %q", name, s.Warnings())
		}
	}
}

// A patch of four cells is one, of three none; cells that only touch at a corner are
// two patches.
func TestLeastHole(t *testing.T) {
	for _, c := range []struct {
		cells [][2]int
		want  int
	}{{[][2]int{{3, 3}, {4, 3}, {5, 3}}, 0}, {[][2]int{{3, 3}, {4, 3}, {5, 3}, {6, 3}}, 4}, {[][2]int{{3, 3}, {4, 3}, {5, 4}, {6, 4}}, 0},
		{[][2]int{{0, 0}, {1, 0}, {0, 1}, {1, 1}}, 4}} {
		buf := make([]float32, 100)
		for i := range buf {
			buf[i] = 1000
		}
		for _, k := range c.cells {
			buf[k[1]*10+k[0]] = 0
		}
		if got := new(holeFinder).voidZeros(buf, 10, 300); got != c.want {
			t.Errorf("%v: %d", c.cells, got)
		}
	}
	all := make([]float32, 100)
	if got := new(holeFinder).voidZeros(all, 10, 300); got != 0 {
		t.Errorf("a block of zeros: %d", got)
	}
}

// Whatever the block: only zeros become voids, none with a low neighbour does, and a
// second pass finds nothing more.
func TestHolesAreZerosAmidHeights(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		w := rapid.IntRange(1, 12).Draw(r, "columns")
		buf := rapid.SliceOfN(rapid.SampledFrom([]float32{0, 0, 0, 1000, 1000, 1000, 1000, 120, nan32}), w, w*12).Draw(r, "block")
		buf = buf[:len(buf)/w*w]
		was := append([]float32(nil), buf...)
		f := new(holeFinder)
		n := f.voidZeros(buf, int64(w), 300)
		for k := range buf {
			if math.Float32bits(buf[k]) == math.Float32bits(was[k]) {
				continue
			}
			n--
			if was[k] != 0 || buf[k] == buf[k] {
				r.Fatalf("%g became %g", was[k], buf[k])
			}
			for _, o := range []int{k - w, k + w, k - 1, k + 1} {
				if o >= 0 && o < len(buf) && (o/w == k/w || o%w == k%w) && (was[o] == 120 || buf[o] == 0) {
					r.Fatalf("cell %d beside %g", k, was[o])
				}
			}
		}
		if n != 0 || f.voidZeros(buf, int64(w), 300) != 0 {
			r.Fatal("not all, or not at once")
		}
	})
}

// The quick look at a block and the thorough one agree: whatever a thorough look would
// change is not clean.
func TestCleanBlocksNeedNoCloserLook(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "cells")
		one := &tile{header: &header{NoData: []float64{-32768, 777}}, lo: -1000, hi: 9000}
		buf := make([]float32, n)
		for i := range buf {
			buf[i] = rapid.Float32Range(1, 700).Draw(t, "height")
		}
		want := true
		zeros := 0
		for range rapid.IntRange(0, 6).Draw(t, "odd ones") {
			at := rapid.IntRange(0, n-1).Draw(t, "at")
			buf[at] = rapid.SampledFrom([]float32{nan32, -32768, 777, 9001, -1000.5, 0, float32(math.Inf(1)), -1000, 9000}).Draw(t, "value")
		}
		for _, v := range buf {
			switch {
			case v == 0:
				zeros++
			case !(v >= -1000 && v <= 9000) || v == 777:
				want = false
			}
		}
		if got := one.isClean(buf); got != (want && zeros < leastHole) {
			t.Fatalf("clean: %v of %v", got, buf)
		}
	})
}
