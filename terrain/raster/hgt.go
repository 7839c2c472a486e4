package raster

/*
#include <stdint.h>
#include <stddef.h>

// Takes big-endian whole numbers to heights.
static void gradeline_big_endian(const uint8_t *raw, float *out, size_t n) {
	for (size_t i = 0; i < n; i++)
		out[i] = (float)(int16_t)(uint16_t)(raw[2 * i] << 8 | raw[2 * i + 1]);
}
*/
import "C"

import (
	"os"
	"slices"
	"sync"
	"unsafe"
)

// hgtBytes is the size of one value: an HGT file holds only rows of big-endian 16-bit numbers from
// the north-west corner on (SRTM's own readme; from memory).
const hgtBytes = 2

var hgtRows = sync.Pool{New: func() any { return new([]byte) }}

// readHGT reads a window of an HGT file; done is false for another kind of file. GDAL reads such a
// file row by row through its cache, which takes ten times as long. The format has no variants at a
// given size, so only one file of a surface is also read by GDAL, and must give exactly the same
// values.
func (s *Surface) readHGT(t *tile, buf []float32, c, r, w, h int64) (done bool, err error) {
	if t.Driver != "SRTMHGT" || s.hgt.Load() == inflateNo ||
		t.Mask != maskNone || t.VRT || isRemote(t.path) || t.Bytes != int64(t.Cols)*int64(t.Rows)*hgtBytes {
		return false, nil
	}
	f, err := os.Open(t.path)
	if err != nil {
		return false, nil // GDAL will report the fault
	}
	defer f.Close()
	if s.hgt.Load() == inflateUnknown {
		s.hgtOnce.Lock()
		if s.hgt.Load() == inflateUnknown {
			s.hgt.Store(s.hgtAgrees(t, f))
		}
		s.hgtOnce.Unlock()
		if s.hgt.Load() == inflateNo {
			return false, nil
		}
	}
	return true, hgtWindow(t, f, buf, c, r, w, h)
}

// hgtAgrees compares a few rows in the middle of the file with GDAL's.
func (s *Surface) hgtAgrees(t *tile, f *os.File) int32 {
	const rows = 2
	r, w := int64(t.Rows)/2, int64(t.Cols)
	mine, gdal := make([]float32, rows*w), make([]float32, rows*w)
	if hgtWindow(t, f, mine, 0, r, w, rows) != nil || s.decodeByGDAL(t, gdal, 0, r, w, rows) != nil || !slices.Equal(mine, gdal) {
		return inflateNo
	}
	return inflateYes
}

// hgtWindow reads w by h values, starting at column c, row r.
func hgtWindow(t *tile, f *os.File, buf []float32, c, r, w, h int64) error {
	p := hgtRows.Get().(*[]byte)
	defer hgtRows.Put(p)
	*p = slices.Grow((*p)[:0], int(w*hgtBytes))[:w*hgtBytes]
	for y := int64(0); y < h; y++ {
		if _, err := f.ReadAt(*p, ((r+y)*int64(t.Cols)+c)*hgtBytes); err != nil {
			return err
		}
		C.gradeline_big_endian((*C.uint8_t)(unsafe.Pointer(&(*p)[0])), (*C.float)(unsafe.Pointer(&buf[y*w])), C.size_t(w))
	}
	return nil
}
