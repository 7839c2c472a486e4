package raster

import (
	"bytes"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/terrain"
)

// rough is a grid whose heights use all bits, with voids and zeros among them.
func rough(cols, rows int, whole bool) *terrain.Grid {
	r := rand.New(rand.NewPCG(3, 9))
	return grid("EPSG:26913", 490000, 4410000, 10, cols, rows, func(x, y float64) float64 {
		switch z := 1200 + 900*r.NormFloat64(); {
		case r.IntN(50) == 0:
			return math.NaN()
		case r.IntN(70) == 0:
			return 0
		case whole:
			return math.Round(z)
		default:
			return z
		}
	})
}

// Every block of every kind of tiled GeoTIFF comes out as GDAL gives it, to the bit;
// the kinds that are decoded here are, the others are left to GDAL.
func TestInflateGivesWhatGDALGives(t *testing.T) {
	dir := t.TempDir()
	tiled := []string{"TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=144"}
	for _, c := range []struct {
		name  string
		whole bool
		here  bool
		more  []string
	}{
		{"float", false, true, []string{"COMPRESS=DEFLATE", "PREDICTOR=1"}},
		{"float predictor", false, true, []string{"COMPRESS=DEFLATE", "PREDICTOR=3"}},
		{"float, big", false, true, []string{"COMPRESS=DEFLATE", "PREDICTOR=3", "BIGTIFF=YES"}},
		{"whole", true, true, []string{"COMPRESS=DEFLATE", "PREDICTOR=1"}},
		{"whole, differences", true, true, []string{"COMPRESS=DEFLATE", "PREDICTOR=2"}},
		{"float, differences", false, false, []string{"COMPRESS=DEFLATE", "PREDICTOR=2"}},
		{"big-endian", false, false, []string{"COMPRESS=DEFLATE", "PREDICTOR=3", "ENDIANNESS=BIG"}},
		{"lzw", false, false, []string{"COMPRESS=LZW", "PREDICTOR=3"}},
		{"zstd", false, true, []string{"COMPRESS=ZSTD", "PREDICTOR=3"}},
		{"zstd without predictor", false, true, []string{"COMPRESS=ZSTD"}},
		{"zstd whole, differences", true, true, []string{"COMPRESS=ZSTD", "PREDICTOR=2"}},
		{"plain", false, false, nil},
		{"mask", false, false, []string{"COMPRESS=DEFLATE", "mask"}},
		{"strips", false, true, []string{"TILED=NO", "COMPRESS=DEFLATE", "PREDICTOR=3", "BLOCKYSIZE=7"}},
		{"strips of one row", false, true, []string{"TILED=NO", "COMPRESS=DEFLATE", "BLOCKYSIZE=1"}},
		{"whole, strips", true, true, []string{"TILED=NO", "COMPRESS=ZSTD", "PREDICTOR=2", "BLOCKYSIZE=40"}},
		{"one strip", false, true, []string{"TILED=NO", "COMPRESS=DEFLATE", "BLOCKYSIZE=1000"}},
		{"strips, big", true, true, []string{"TILED=NO", "COMPRESS=DEFLATE", "BLOCKYSIZE=11", "BIGTIFF=YES"}},
		{"lzw strips", false, false, []string{"TILED=NO", "COMPRESS=LZW", "PREDICTOR=3"}},
		{"plain strips", false, false, []string{"TILED=NO"}},
	} {
		path := filepath.Join(dir, strings.ReplaceAll(c.name, " ", "_")+".tif")
		options, isMasked := c.more, false
		if n := len(options); n > 0 && options[n-1] == "mask" {
			options, isMasked = options[:n-1], true
		}
		creation := append(append([]string{}, tiled...), options...)
		if slices.Contains(options, "TILED=NO") {
			creation = options
		}
		cols, rows := 300, 333
		if strings.Contains(c.name, "strip") {
			cols, rows = 1200, 1000 // more than one window
		}
		write(t, path, rough(cols, rows, c.whole), WriteOptions{Int16: c.whole, NoData: -9999, Creation: creation})
		if isMasked {
			masked := filepath.Join(dir, "masked.tif")
			args := []string{"-q", "-mask", "1", "--config", "GDAL_TIFF_INTERNAL_MASK", "YES", "-a_nodata", "none"}
			for _, o := range append(append([]string{}, tiled...), options...) {
				args = append(args, "-co", o)
			}
			gdalRun(t, "", "gdal_translate", append(args, path, masked)...)
			path = masked
		}
		s := open(t, Options{VertUnit: terrain.Metre}, path)
		tl := s.tiles[0]
		windows := tl.nbx * ((int64(tl.Rows) + tl.bh - 1) / tl.bh)
		if windows < 2 && c.name != "one strip" {
			t.Fatalf("%s: %d windows", c.name, windows)
		}
		for b := range windows {
			col, row, w, h := tl.window(b)
			got, want := make([]float32, w*h), make([]float32, w*h)
			done, err := s.inflate(tl, got, col, row, w, h)
			if err != nil || done != c.here {
				t.Fatalf("%s, block %d: done here %v, %v", c.name, b, done, err)
			}
			if err := s.decodeByGDAL(tl, want, col, row, w, h); err != nil {
				t.Fatal(err)
			}
			for k := range got {
				if done && math.Float32bits(got[k]) != math.Float32bits(want[k]) {
					t.Fatalf("%s, block %d, cell %d: %v, GDAL %v", c.name, b, k, got[k], want[k])
				}
			}
		}
		if is := tl.inflates.Load() == inflateYes; is != c.here {
			t.Errorf("%s: decoded here %v", c.name, is)
		}
	}
}

// Tiles that the file does not keep (sparse) are GDAL's affair, the others are not.
func TestInflateSparse(t *testing.T) {
	dir := t.TempDir()
	g := rough(256, 256, false)
	for i := range g.ElevationM {
		if i%256 >= 128 {
			g.ElevationM[i] = nan32
		}
	}
	path := write(t, filepath.Join(dir, "s.tif"), g, WriteOptions{NoData: -9999,
		Creation: []string{"TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=128", "COMPRESS=DEFLATE", "SPARSE_OK=TRUE"}})
	s := open(t, Options{}, path)
	kept := 0
	for b := range int64(4) {
		col, row, w, h := s.tiles[0].window(b)
		buf := make([]float32, w*h)
		done, err := s.inflate(s.tiles[0], buf, col, row, w, h)
		if err != nil {
			t.Fatal(err)
		}
		if done {
			kept++
		}
		if err := s.decode(s.tiles[0], buf, col, row, w, h); err != nil || (buf[0] == buf[0] || buf[1] == buf[1]) != (col == 0) {
			t.Errorf("block %d: %v %v, %v", b, buf[0], buf[1], err)
		}
	}
	if kept != 2 {
		t.Errorf("%d tiles decoded here", kept)
	}
}

// So are strips: a window of some that are stored and some that are not is read by GDAL, complete.
func TestInflateSparseStrips(t *testing.T) {
	g := rough(256, 3072, false)
	for i := range g.ElevationM[256*1536:] {
		g.ElevationM[256*1536+i] = nan32
	}
	path := write(t, filepath.Join(t.TempDir(), "s.tif"), g, WriteOptions{NoData: -9999,
		Creation: []string{"BLOCKYSIZE=128", "COMPRESS=DEFLATE", "SPARSE_OK=TRUE"}})
	s := open(t, Options{}, path)
	tl := s.tiles[0]
	if tl.bh != 1024 {
		t.Fatalf("windows of %d rows", tl.bh)
	}
	for b, here := range []bool{true, false, false} {
		col, row, w, h := tl.window(int64(b))
		buf := make([]float32, w*h)
		if done, err := s.inflate(tl, buf, col, row, w, h); err != nil || done != here {
			t.Errorf("window %d: done here %v, %v", b, done, err)
		}
		if err := s.decode(tl, buf, col, row, w, h); err != nil {
			t.Fatal(err)
		}
		for k, z := range buf {
			if want := g.ElevationM[row*256+int64(k)]; z != want && (z == z || want > lowestM && want != 0) {
				t.Fatalf("window %d, cell %d: %v, written %v", b, k, z, want)
			}
		}
	}
}

// Bytes spoiled inside a DEFLATE block, which GDAL turns into wrong heights without a
// word, are told from the block's checksum.
func TestDamageInsideABlockIsNoticed(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 512, 512, hills)
	path := write(t, filepath.Join(dir, "x.tif"), g, WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=256", "BLOCKYSIZE=256", "COMPRESS=DEFLATE", "PREDICTOR=3"}})
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	where, err := readTIFF(f)
	if err != nil {
		t.Fatal(err)
	}
	packed, err := where.packed(f, 1, 0, nil)
	at, err2 := where.offsets.number(f, 1)
	if err != nil || err2 != nil || len(packed) < 1000 {
		t.Fatalf("%v %v, %d bytes", err, err2, len(packed))
	}
	buf, truth := make([]float32, 256*256), make([]float32, 256*256)
	before := open(t, Options{}, path)
	if err := before.decode(before.tiles[0], truth, 256, 0, 256, 256); err != nil {
		t.Fatal(err)
	}
	silent := 0
	for _, back := range []int64{20, 40, 80, 160, 320} { // bytes before the block's end
		pos := at + int64(len(packed)) - back
		one := []byte{packed[int64(len(packed))-back] ^ 0x10}
		if _, err := f.WriteAt(one, pos); err != nil {
			t.Fatal(err)
		}
		s := open(t, Options{}, path)
		if err := s.decodeByGDAL(s.tiles[0], buf, 256, 0, 256, 256); err == nil && !sameBits(buf, truth) {
			silent++
		}
		if err := s.decode(s.tiles[0], buf, 256, 0, 256, 256); err == nil {
			t.Errorf("a byte spoiled %d before the end was not noticed", back)
		}
		one[0] ^= 0x10
		if _, err := f.WriteAt(one, pos); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("GDAL gave wrong heights without a word in %d of 5", silent)
	s := open(t, Options{}, path)
	if err := s.decode(s.tiles[0], buf, 256, 0, 256, 256); err != nil || !sameBits(buf, truth) {
		t.Errorf("mended: %v", err)
	}
}

func sameBits(a, b []float32) bool {
	for i := range a {
		if math.Float32bits(a[i]) != math.Float32bits(b[i]) {
			return false
		}
	}
	return len(a) == len(b)
}

// Whatever the bytes, a directory is read or refused, and no list is read beyond it.
func FuzzReadTIFF(f *testing.F) {
	for _, kind := range [][]string{{"BIGTIFF=NO", "COMPRESS=DEFLATE"}, {"BIGTIFF=YES", "COMPRESS=DEFLATE"}, {"COMPRESS=ZSTD"}, {"COMPRESS=DEFLATE", "TILED=NO"}} {
		path := filepath.Join(f.TempDir(), "x.tif")
		creation := append([]string{"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16", "PREDICTOR=3"}, kind...)
		if slices.Contains(kind, "TILED=NO") {
			creation = append([]string{"BLOCKYSIZE=16", "PREDICTOR=3"}, kind...)
		}
		if err := Write(path, rough(40, 40, false), WriteOptions{NoData: -9999, Creation: creation}); err != nil {
			f.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		r := bytes.NewReader(b)
		where, err := readTIFF(r)
		if err != nil {
			return
		}
		i := inflaters.Get().(*inflater)
		defer inflaters.Put(i)
		buf := make([]float32, where.w*where.h)
		for k := range min(where.across*where.down, 16) {
			if i.packed, err = where.packed(r, k%where.across, k/where.across, i.packed[:0]); err == nil && len(i.packed) > 0 {
				rows := where.rowsOf(k / where.across)
				_ = i.block(where, buf, rows, min(where.w, where.cols), min(rows, where.rows)) // any answer will do, but no crash
			}
		}
	})
}
