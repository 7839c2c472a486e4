package raster

import (
	"encoding/binary"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// Every block of an HGT file comes out as GDAL gives it, at both sizes, all 16-bit
// numbers among them.
func TestHGTGivesWhatGDALGives(t *testing.T) {
	for _, cols := range []int{1201, 3601} {
		path := filepath.Join(t.TempDir(), "N39W106.hgt")
		r := rand.New(rand.NewPCG(uint64(cols), 1))
		raw := make([]byte, 2*cols*cols)
		for i := range cols * cols {
			binary.BigEndian.PutUint16(raw[2*i:], uint16(r.Uint32()))
		}
		if err := os.WriteFile(path, raw, 0o600); err != nil {
			t.Fatal(err)
		}
		s := open(t, Options{}, path)
		tl := s.tiles[0]
		blocks := tl.nbx * ((int64(tl.Rows) + tl.bh - 1) / tl.bh)
		for b := range blocks {
			c, row, w, h := tl.window(b)
			got, want := make([]float32, w*h), make([]float32, w*h)
			done, err := s.readHGT(tl, got, c, row, w, h)
			if err != nil || !done {
				t.Fatalf("%d columns, block %d: done %v, %v", cols, b, done, err)
			}
			if err := s.decodeByGDAL(tl, want, c, row, w, h); err != nil {
				t.Fatal(err)
			}
			if !slices.Equal(got, want) {
				t.Fatalf("%d columns, block %d differs from GDAL's", cols, b)
			}
		}
		// One comparison with GDAL is made; had it failed, GDAL would read them all.
		if s.hgt.Load() != inflateYes {
			t.Errorf("%d columns: agreement %d after all blocks were read", cols, s.hgt.Load())
		}
		s.hgt.Store(inflateNo)
		if done, err := s.readHGT(tl, make([]float32, 4), 0, 0, 2, 2); done || err != nil {
			t.Errorf("%d columns: read here though GDAL differs, %v", cols, err)
		}
	}
}
