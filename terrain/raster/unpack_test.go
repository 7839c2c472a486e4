package raster

import (
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// ZSTD tiles have no checksum in a TIFF. Wherever GDAL finds a spoiled one damaged, it is damaged
// here too; where GDAL reads it, the heights are GDAL's.
func TestSpoiledZSTDIsReadNoWorseThanByGDAL(t *testing.T) {
	path := write(t, filepath.Join(t.TempDir(), "z.tif"), rough(256, 256, false), WriteOptions{NoData: -9999,
		Creation: []string{"TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=128", "COMPRESS=ZSTD", "PREDICTOR=3"}})
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
	rng := rand.New(rand.NewPCG(11, 12))
	refused, read := 0, 0
	for n := range 150 {
		pos := n % 24 // the frame's and the first block's heads, then anywhere
		if n >= 24 {
			pos = rng.IntN(len(packed))
		}
		spoiled := []byte{packed[pos] ^ byte(1<<rng.IntN(8))}
		if _, err := f.WriteAt(spoiled, at+int64(pos)); err != nil {
			t.Fatal(err)
		}
		s := open(t, Options{}, path)
		mine, gdal := make([]float32, 128*128), make([]float32, 128*128)
		errMine := s.decode(s.tiles[0], mine, 128, 0, 128, 128)
		isHere := s.tiles[0].inflates.Load() == inflateYes
		s.tiles[0].inflates.Store(inflateNo)
		errGDAL := s.decode(s.tiles[0], gdal, 128, 0, 128, 128)
		switch {
		case !isHere:
			t.Fatal("the file is left to GDAL")
		case (errGDAL == nil) != (errMine == nil):
			t.Errorf("byte %d of %d: GDAL %v, here %v", pos, len(packed), errGDAL, errMine)
		case errGDAL != nil:
			refused++
		default:
			if read++; !sameBits(mine, gdal) {
				t.Errorf("byte %d of %d: other heights than GDAL's", pos, len(packed))
			}
		}
		if _, err := f.WriteAt(packed[pos:pos+1], at+int64(pos)); err != nil {
			t.Fatal(err)
		}
		_ = s.Close()
	}
	t.Logf("%d refused, %d read", refused, read)
	if refused < 5 || read < 5 {
		t.Errorf("%d refused, %d read: too few of either", refused, read)
	}
}
