package raster

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// tiffTiles is the position of a GeoTIFF's blocks, for the kinds that are decoded here
// rather than by GDAL: little-endian, one band, tiles or strips, DEFLATE or ZSTD. TIFF 6.0
// sections 2, 3, 15; BigTIFF and the float predictor by Adobe Photoshop TIFF Technical Note 3
// (second-hand).
type tiffTiles struct {
	compression  int64
	cols, rows   int64
	w, h         int64 // of a tile or strip
	isStrips     bool  // the last one holds only the rows that are left; tiles are padded
	bits         int   // 32: floats; 16: signed whole numbers
	predictor    int   // 1, 2 or 3
	offsets      tiffArray
	sizes        tiffArray
	across, down int64
}

// tiffArray is a list of numbers within the file.
type tiffArray struct {
	at    int64
	count int64
	bytes int64 // of one number: 2, 4 or 8
}

var errOtherTIFF = errors.New("not of the kind decoded here")

// Tags of the first image, by number (TIFF 6.0 appendix A; 317 section 14).
const (
	tagCols, tagRows, tagBits, tagCompression = 256, 257, 258, 259
	tagStrips, tagStripRows, tagStripSizes    = 273, 278, 279
	tagSamples, tagPredictor                  = 277, 317
	tagTileW, tagTileH, tagOffsets, tagSizes  = 322, 323, 324, 325
	tagSampleFormat                           = 339
	maxTiffTags, maxTileCells                 = 4096, 4 << 20
)

// tiffDirectory is the directory of a file's first image, in a classic TIFF or a BigTIFF.
type tiffDirectory struct {
	isBig          bool
	at             int64 // of the directory in the file
	countB, entryB int64 // bytes of its count, and of one entry
}

// readTIFF reads the directory of the first image; errOtherTIFF for a kind that is not decoded
// here, any other error where it cannot be read.
func readTIFF(f io.ReaderAt) (*tiffTiles, error) {
	d, err := readTIFFHead(f)
	if err != nil {
		return nil, err
	}
	entries, err := d.readEntries(f)
	if err != nil {
		return nil, err
	}
	t := &tiffTiles{predictor: 1}
	value := map[int]int64{tagSamples: 1, tagCompression: 1, tagSampleFormat: 1, tagPredictor: 1}
	for i := int64(0); i < int64(len(entries))/d.entryB; i++ {
		tag, a, inline, ok := d.entry(entries, i)
		switch {
		case !ok:
		case tag == tagOffsets || tag == tagStrips:
			t.offsets, t.isStrips = a, tag == tagStrips
		case tag == tagSizes || tag == tagStripSizes:
			t.sizes = a
		case a.count == 1 && inline != nil:
			value[tag] = numberOf(inline)
		default:
			value[tag] = -1
		}
	}
	return t, t.checkLayout(value)
}

// readTIFFHead reads the position of the first directory.
func readTIFFHead(f io.ReaderAt) (d tiffDirectory, err error) {
	var head [16]byte
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return d, err
	}
	le := binary.LittleEndian
	d.countB, d.entryB = 2, 12
	switch {
	case head[0] != 'I' || head[1] != 'I':
		return d, errOtherTIFF
	case le.Uint16(head[2:]) == 42:
		d.at = int64(le.Uint32(head[4:]))
	case le.Uint16(head[2:]) == 43 && le.Uint16(head[4:]) == 8:
		d.isBig, d.at = true, int64(le.Uint64(head[8:]))
		d.countB, d.entryB = 8, 20
	default:
		return d, errOtherTIFF
	}
	if d.at < 8 || d.at > math.MaxInt64/2 {
		return d, errOtherTIFF
	}
	return d, nil
}

// readEntries reads the directory's entries, undecoded.
func (d tiffDirectory) readEntries(f io.ReaderAt) ([]byte, error) {
	var word [8]byte
	if _, err := f.ReadAt(word[:d.countB], d.at); err != nil {
		return nil, err
	}
	n := numberOf(word[:d.countB])
	if n < 1 || n > maxTiffTags {
		return nil, errOtherTIFF
	}
	entries := make([]byte, n*d.entryB)
	_, err := f.ReadAt(entries, d.at+d.countB)
	return entries, err
}

// entry reads one entry: its tag, where its values are, and the bytes of the values if
// the entry itself holds them. It is not ok if the values are not whole numbers, or are too many.
func (d tiffDirectory) entry(entries []byte, i int64) (tag int, a tiffArray, inline []byte, ok bool) {
	le := binary.LittleEndian
	e := entries[i*d.entryB : (i+1)*d.entryB]
	a = tiffArray{bytes: map[uint16]int64{1: 1, 3: 2, 4: 4, 16: 8}[le.Uint16(e[2:])]}
	field := e[8:] // after tag, kind and a count of 4 bytes
	if d.isBig {
		a.count, field = int64(le.Uint64(e[4:])), e[12:]
	} else {
		a.count = int64(le.Uint32(e[4:]))
	}
	if a.bytes == 0 || a.count < 1 || a.count > 1<<40 {
		return 0, a, nil, false
	}
	tag = int(le.Uint16(e))
	if a.count*a.bytes > int64(len(field)) {
		a.at = numberOf(field)
		return tag, a, nil, true
	}
	a.at = d.at + d.countB + (i+1)*d.entryB - int64(len(field))
	return tag, a, field[:a.bytes], true
}

// checkLayout refuses layouts that are not decoded here.
func (t *tiffTiles) checkLayout(value map[int]int64) error {
	t.cols, t.rows, t.w, t.h = value[tagCols], value[tagRows], value[tagTileW], value[tagTileH]
	if t.isStrips {
		if t.w != 0 || t.h != 0 { // both kinds of layout
			return errOtherTIFF
		}
		t.w, t.h = t.cols, min(t.rows, value[tagStripRows])
	}
	t.bits, t.predictor = int(value[tagBits]), int(value[tagPredictor])
	t.compression = value[tagCompression]
	if !t.isDecoded(value[tagSampleFormat]) || unpackers[t.compression] == nil || value[tagSamples] != 1 || !t.isOfSaneSize() {
		return errOtherTIFF
	}
	t.across, t.down = (t.cols+t.w-1)/t.w, (t.rows+t.h-1)/t.h
	if t.offsets.count != t.across*t.down || t.sizes.count != t.offsets.count || t.offsets.at < 8 || t.sizes.at < 8 {
		return errOtherTIFF
	}
	return nil
}

// isDecoded reports whether values of this kind are decoded here: floats, or whole
// numbers of 16 bits with a sign.
func (t *tiffTiles) isDecoded(sampleFormat int64) bool {
	if t.bits == 32 && sampleFormat == 3 {
		return t.predictor == 1 || t.predictor == 3
	}
	return t.bits == 16 && sampleFormat == 2 && (t.predictor == 1 || t.predictor == 2)
}

func (t *tiffTiles) isOfSaneSize() bool {
	isWithin := func(v, most int64) bool { return v >= 1 && v <= most }
	return isWithin(t.cols, 1<<31) && isWithin(t.rows, 1<<31) && isWithin(t.w, maxTileCells) && isWithin(t.h, maxTileCells) && t.w*t.h <= maxTileCells
}

func numberOf(b []byte) int64 {
	var word [8]byte
	copy(word[:], b)
	return int64(binary.LittleEndian.Uint64(word[:]))
}

// number reads one entry of a list.
func (a tiffArray) number(f io.ReaderAt, i int64) (int64, error) {
	if i < 0 || i >= a.count {
		return 0, fmt.Errorf("entry %d of %d", i, a.count)
	}
	var word [8]byte
	if _, err := f.ReadAt(word[:a.bytes], a.at+i*a.bytes); err != nil {
		return 0, err
	}
	return int64(binary.LittleEndian.Uint64(word[:])), nil
}

// rowsOf is the number of rows that the blocks of a row of the grid hold.
func (t *tiffTiles) rowsOf(row int64) int64 {
	if t.isStrips {
		return min(t.h, t.rows-row*t.h)
	}
	return t.h
}

// packed reads the compressed bytes of the block at a place in the grid of blocks into buf; none
// where the file stores none.
func (t *tiffTiles) packed(f io.ReaderAt, col, row int64, buf []byte) ([]byte, error) {
	at, err := t.offsets.number(f, row*t.across+col)
	if err != nil {
		return nil, err
	}
	size, err := t.sizes.number(f, row*t.across+col)
	if err != nil || size == 0 || at == 0 {
		return nil, err
	}
	// DEFLATE output exceeds its input by little at most: 5 bytes in 16,384 and the header.
	if most := t.w*t.h*int64(t.bits)/8 + t.w*t.h/1024 + 4096; size < 0 || size > most || at < 0 {
		return nil, fmt.Errorf("a tile of %d bytes at %d", size, at)
	}
	if int64(cap(buf)) < size {
		buf = make([]byte, size)
	}
	buf = buf[:size]
	_, err = f.ReadAt(buf, at)
	return buf, err
}
