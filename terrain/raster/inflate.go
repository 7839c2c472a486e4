package raster

/*
#cgo pkg-config: libdeflate
#include <libdeflate.h>
#include <stdint.h>
#include <stddef.h>
#include <string.h>
#if defined(__SSE2__)
#include <emmintrin.h>
#endif

// Undoes the float predictor of one row: running sums of bytes, then the planes of the
// bytes, most significant first, back into little-endian numbers.
static void gradeline_float_row(uint8_t *row, uint8_t *sum, float *out, size_t w, size_t n) {
	size_t bytes = 4 * w, i = 0;
	uint8_t carry = 0;
#if defined(__SSE2__)
	__m128i last = _mm_setzero_si128();
	for (; i + 16 <= bytes; i += 16) {
		__m128i x = _mm_loadu_si128((const __m128i *)(row + i));
		x = _mm_add_epi8(x, _mm_slli_si128(x, 1));
		x = _mm_add_epi8(x, _mm_slli_si128(x, 2));
		x = _mm_add_epi8(x, _mm_slli_si128(x, 4));
		x = _mm_add_epi8(x, _mm_slli_si128(x, 8));
		// The sum up to here goes into every byte; the loop waits only for that.
		__m128i t = _mm_srli_si128(x, 15);
		t = _mm_unpacklo_epi8(t, t);
		t = _mm_shufflelo_epi16(t, 0);
		t = _mm_unpacklo_epi64(t, t);
		_mm_storeu_si128((__m128i *)(sum + i), _mm_add_epi8(x, last));
		last = _mm_add_epi8(last, t);
	}
	if (i > 0)
		carry = sum[i - 1];
#endif
	for (; i < bytes; i++)
		sum[i] = carry = (uint8_t)(carry + row[i]);
	const uint8_t *a = sum, *b = sum + w, *c = sum + 2 * w, *d = sum + 3 * w;
	i = 0;
#if defined(__SSE2__)
	for (; i + 16 <= n; i += 16) {
		__m128i A = _mm_loadu_si128((const __m128i *)(a + i)), B = _mm_loadu_si128((const __m128i *)(b + i));
		__m128i C = _mm_loadu_si128((const __m128i *)(c + i)), D = _mm_loadu_si128((const __m128i *)(d + i));
		__m128i lo = _mm_unpacklo_epi8(D, C), hi = _mm_unpackhi_epi8(D, C);
		__m128i LO = _mm_unpacklo_epi8(B, A), HI = _mm_unpackhi_epi8(B, A);
		_mm_storeu_si128((__m128i *)(out + i), _mm_unpacklo_epi16(lo, LO));
		_mm_storeu_si128((__m128i *)(out + i + 4), _mm_unpackhi_epi16(lo, LO));
		_mm_storeu_si128((__m128i *)(out + i + 8), _mm_unpacklo_epi16(hi, HI));
		_mm_storeu_si128((__m128i *)(out + i + 12), _mm_unpackhi_epi16(hi, HI));
	}
#endif
	for (; i < n; i++) {
		uint32_t v = (uint32_t)a[i] << 24 | (uint32_t)b[i] << 16 | (uint32_t)c[i] << 8 | d[i];
		memcpy(out + i, &v, 4);
	}
}

// Takes rows of w stored values to n values of height each. Kinds: 1 floats as they
// are, 3 floats with their predictor, 16 whole numbers as they are, 162 whole numbers
// as differences.
static void gradeline_unpack(int kind, uint8_t *raw, uint8_t *sum, float *out, size_t w, size_t n, size_t rows) {
	for (size_t r = 0; r < rows; r++) {
		float *o = out + r * n;
		if (kind == 1) {
			memcpy(o, raw + r * 4 * w, 4 * n);
		} else if (kind == 3) {
			gradeline_float_row(raw + r * 4 * w, sum, o, w, n);
		} else if (kind == 16 || kind == 162) {
			const int16_t *v = (const int16_t *)(raw + r * 2 * w);
			uint16_t s = 0;
			for (size_t i = 0; i < n; i++) {
				s = kind == 162 ? (uint16_t)(s + (uint16_t)v[i]) : (uint16_t)v[i];
				o[i] = (float)(int16_t)s;
			}
		}
	}
}
*/
import "C"

import (
	"errors"
	"math"
	"os"
	"runtime"
	"slices"
	"sync"
	"unsafe"

	"github.com/klauspost/compress/zstd"
)

// inflater is the working memory of one decode.
type inflater struct {
	c           *C.struct_libdeflate_decompressor
	packed, raw []byte
	sum         []byte
	zstd        *zstd.Decoder // nil: not needed so far
}

var inflaters = sync.Pool{New: func() any {
	i := &inflater{c: C.libdeflate_alloc_decompressor()}
	runtime.SetFinalizer(i, func(i *inflater) { C.libdeflate_free_decompressor(i.c) })
	return i
}}

// Whether a file's tiles are decoded here: not known yet, yes, no.
const (
	inflateUnknown int32 = iota
	inflateYes
	inflateNo
)

// errDamaged is often missed by GDAL's own library, which does not compare the checksum of DEFLATE
// data.
var errDamaged = errors.New("its compressed bytes are damaged: their checksum or length is wrong")

// inflate decodes a window that is one tile or some strips of a GeoTIFF of the common kind, several
// times faster than GDAL; done is false for another kind of file or window. One window of each file
// is also decoded by GDAL, and inflate is used only if both give exactly the same values.
func (s *Surface) inflate(t *tile, buf []float32, c, r, w, h int64) (done bool, err error) {
	if t.inflates.Load() == inflateNo {
		return false, nil
	}
	if !t.mayInflate() {
		t.inflates.Store(inflateNo)
		return false, nil
	}
	f, err := os.Open(t.path)
	if err != nil {
		return false, nil // GDAL says what is wrong
	}
	defer f.Close()
	where := t.tilesIn(f)
	if where == nil {
		t.inflates.Store(inflateNo)
		return false, nil
	}
	i := inflaters.Get().(*inflater)
	defer inflaters.Put(i)
	if !s.isAgreed(t, where, f, i) {
		return false, nil
	}
	isStored, err := i.window(where, f, buf, c, r, w, h)
	if !isStored {
		return false, nil // GDAL will report the fault, or that the block is not stored
	}
	if err != nil && where.compression != compressionDeflate && where.compression != compressionDeflateBefore {
		return false, nil // without a checksum GDAL decides what is damaged
	}
	return true, err
}

// mayInflate reports whether the header alone allows a file to be decoded here.
func (t *tile) mayInflate() bool {
	return t.Driver == "GTiff" && t.Mask == maskNone && !t.VRT && !isRemote(t.path) && t.bw == int64(t.BlockW) &&
		(t.bh == int64(t.BlockH) || t.bw == int64(t.Cols) && (t.bh%int64(t.BlockH) == 0 || t.bh == int64(t.Rows)))
}

// tilesIn returns the positions of the blocks in the file; nil where they are not decoded here.
func (t *tile) tilesIn(f *os.File) *tiffTiles {
	if where := t.where.Load(); where != nil {
		return where
	}
	where, err := readTIFF(f)
	if err != nil || where.cols != int64(t.Cols) || where.rows != int64(t.Rows) || where.w != t.bw || where.h != int64(t.BlockH) ||
		!where.isStrips && where.h != t.bh {
		return nil
	}
	t.where.Store(where)
	return where
}

// isAgreed reports whether GDAL gives the same heights for the file; it is checked once.
func (s *Surface) isAgreed(t *tile, where *tiffTiles, f *os.File, i *inflater) bool {
	if t.inflates.Load() == inflateUnknown {
		t.serial.Lock()
		if t.inflates.Load() == inflateUnknown {
			t.inflates.Store(s.agrees(t, where, f, i))
		}
		t.serial.Unlock()
	}
	return t.inflates.Load() == inflateYes
}

// agrees compares one window of a file with GDAL's result: the middle one, or another where that is
// damaged, not stored or all of one height. The choice does not depend on the request, so no result
// does.
func (s *Surface) agrees(t *tile, where *tiffTiles, f *os.File, i *inflater) int32 {
	n := t.nbx * ((int64(t.Rows) + t.bh - 1) / t.bh)
	for _, k := range []int64{n / 2, n / 4, 3 * n / 4, 0, n - 1} {
		col, row, w, h := t.window(k)
		mine, gdal := make([]float32, w*h), make([]float32, w*h)
		if isStored, err := i.window(where, f, mine, col, row, w, h); !isStored || err != nil || s.decodeByGDAL(t, gdal, col, row, w, h) != nil {
			continue
		}
		if isEven(mine) {
			continue
		}
		for k := range mine {
			if math.Float32bits(mine[k]) != math.Float32bits(gdal[k]) {
				return inflateNo
			}
		}
		return inflateYes
	}
	return inflateNo
}

// isEven reports whether all cells are the same.
func isEven(v []float32) bool {
	for _, x := range v {
		if math.Float32bits(x) != math.Float32bits(v[0]) {
			return false
		}
	}
	return true
}

// window decodes a window that is one tile, or whole strips, to w by h heights; not where a block
// cannot be read or is not stored.
func (i *inflater) window(t *tiffTiles, f *os.File, buf []float32, c, r, w, h int64) (isStored bool, err error) {
	for y := int64(0); y < h; y += t.h {
		row := (r + y) / t.h
		if i.packed, err = t.packed(f, c/t.w, row, i.packed[:0]); err != nil || len(i.packed) == 0 {
			return false, nil
		}
		if err := i.block(t, buf[y*w:], t.rowsOf(row), w, min(h-y, t.h)); err != nil {
			return true, err
		}
	}
	return true, nil
}

// block decodes compressed bytes of so many rows to w by h heights.
func (i *inflater) block(t *tiffTiles, buf []float32, rows, w, h int64) error {
	n := int(t.w * rows * int64(t.bits) / 8)
	i.raw = slices.Grow(i.raw[:0], n)[:n]
	i.sum = slices.Grow(i.sum[:0], int(4*t.w))[:4*t.w]
	if !unpackers[t.compression](i, i.raw) {
		return errDamaged
	}
	kind := t.predictor
	if t.bits == 16 {
		kind = map[int]int{1: 16, 2: 162}[t.predictor]
	}
	C.gradeline_unpack(C.int(kind), (*C.uint8_t)(unsafe.Pointer(&i.raw[0])), (*C.uint8_t)(unsafe.Pointer(&i.sum[0])),
		(*C.float)(unsafe.Pointer(&buf[0])), C.size_t(t.w), C.size_t(w), C.size_t(h))
	return nil
}
