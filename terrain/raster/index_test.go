package raster

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"testing"
	"time"

	"gradeline/terrain"
)

// The index gives what the files would give, notices changed, new and removed ones,
// and survives its own damage.
func TestIndex(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	dir := t.TempDir()
	put := func(name string, v float32, east float64) string {
		g := flat(v)
		g.WestX += east
		return write(t, filepath.Join(dir, name), g, WriteOptions{})
	}
	a := put("a.tif", 1500, 0)
	put("b.tif", 1600, 200)
	sources := func() []terrain.Raster {
		t.Helper()
		s := open(t, Options{}, dir)
		return s.Sources()
	}
	first := sources()
	files, err := filepath.Glob(filepath.Join(os.Getenv("XDG_CACHE_HOME"), "gradeline", "tiles", "*.idx"))
	if err != nil || len(files) != 1 {
		t.Fatal(files, err)
	}
	if again := sources(); !reflect.DeepEqual(first, again) {
		t.Errorf("%+v\n%+v", first, again)
	}
	// Another height in the same place: size the same, another time and fingerprint.
	put("a.tif", 1700, 0)
	if err := os.Chtimes(a, time.Now(), time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	changed := sources()
	if changed[0].Fingerprint == first[0].Fingerprint || changed[1].Fingerprint != first[1].Fingerprint {
		t.Error("a changed file kept its fingerprint, or another lost it")
	}
	// A mask beside a tile changes what it says.
	g := flat(1)
	msk := write(t, filepath.Join(t.TempDir(), "m.tif"), g, WriteOptions{Int16: true})
	gdalRun(t, "", "gdal_translate", "-q", "-ot", "Byte", "-scale", "0", "1", "0", "0", "-mo", "INTERNAL_MASK_FLAGS_1=2", "-of", "GTiff", msk, a+".msk")
	s := open(t, Options{}, dir)
	if got := sample(t, s, []terrain.Point{inFlat})[0]; got.Miss != terrain.Void {
		t.Errorf("with an empty mask: %+v", got)
	}
	os.Remove(a + ".msk")
	put("c.tif", 1800, 400)
	os.Remove(filepath.Join(dir, "b.tif"))
	if now := sources(); len(now) != 2 || now[1].Name != "c.tif" {
		t.Errorf("%+v", now)
	}
	if err := os.WriteFile(files[0], []byte("damaged beyond what a gob decoder likes, and long enough to be looked at by it"), 0o600); err != nil {
		t.Fatal(err)
	}
	if now := sources(); len(now) != 2 {
		t.Errorf("%+v", now)
	}
}

// tileFolder makes n tiles of an HGT by links, as a large folder would have.
func tileFolder(tb testing.TB, n int) string {
	dir := tb.TempDir()
	src := filepath.Join(dir, "N00E000.hgt")
	const step = 1.0 / 1200
	g := grid("EPSG:4326", -step/2, 1+step/2, step, 1201, 1201, func(x, y float64) float64 { return 500 + 300*x })
	write(tb, src, g, WriteOptions{Format: "SRTMHGT"})
	tiles := filepath.Join(dir, "tiles")
	if err := os.Mkdir(tiles, 0o755); err != nil {
		tb.Fatal(err)
	}
	for k := range n {
		lon, lat := k%200, k/200
		if err := os.Symlink(src, filepath.Join(tiles, fmt.Sprintf("N%02dE%03d.hgt", lat, lon%180))); err != nil && !os.IsExist(err) {
			tb.Fatal(err)
		}
		if lon >= 180 {
			os.Symlink(src, filepath.Join(tiles, fmt.Sprintf("S%02dE%03d.hgt", lat+1, lon-180)))
		}
	}
	return tiles
}

// A folder of 1,000 tiles is one mosaic, and what is read far apart is right.
func TestFolderOfManyTiles(t *testing.T) {
	t.Setenv("XDG_CACHE_HOME", t.TempDir())
	dir := tileFolder(t, 1000)
	start := time.Now()
	first := open(t, Options{}, dir)
	took := time.Since(start)
	start = time.Now()
	s := open(t, Options{}, dir)
	t.Logf("%d tiles: %v, then %v", len(s.tiles), took, time.Since(start))
	if len(s.layers) != 1 || len(s.tiles) != 1000 || !reflect.DeepEqual(first.Sources(), s.Sources()) {
		t.Fatalf("%d mosaics of %d tiles", len(s.layers), len(s.tiles))
	}
	var pts []terrain.Point
	for k := range 400 {
		pts = append(pts, terrain.Point{LonDeg: float64(k%170) + .25, LatDeg: float64(k%5) + .5})
	}
	for i, o := range sample(t, s, pts) {
		if o.Miss != terrain.Hit || o.ElevationM != 575 {
			t.Fatalf("%v: %+v", pts[i], o)
		}
	}
	if n := s.handles.open; n > maxHandles || n < 1 {
		t.Errorf("%d handles open", n)
	}
}

// BenchmarkOpenFolder measures opening 10,000 tiles whose index is there.
func BenchmarkOpenFolder(b *testing.B) {
	b.Setenv("XDG_CACHE_HOME", b.TempDir())
	dir := tileFolder(b, 10000)
	open(b, Options{}, dir)
	for b.Loop() {
		s, err := Open(context.Background(), []string{dir}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if len(s.tiles) != 10000 {
			b.Fatal(len(s.tiles))
		}
		s.Close()
	}
}
