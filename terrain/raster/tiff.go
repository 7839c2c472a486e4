package raster

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
)

// tiffTiles is where a GeoTIFF keeps its blocks, for the kinds that are decoded here
// rather than by GDAL: little-endian, one band, tiles, DEFLATE. TIFF 6.0 sections 2, 15;
// BigTIFF and the float predictor by Adobe Photoshop TIFF Technical Note 3 (second-hand).
type tiffTiles struct {
	cols, rows   int64
	w, h         int64 // of a tile
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
	tagCols, tagRows, tagBits, tagCompression    = 256, 257, 258, 259
	tagSamples, tagPlanar, tagPredictor          = 277, 284, 317
	tagTileW, tagTileH, tagOffsets, tagSizes     = 322, 323, 324, 325
	tagSampleFormat, tagExtraSamples, tagJPEG    = 339, 338, 347
	maxTiffTags, maxTileCells                    = 4096, 4 << 20
	compressionDeflate, compressionDeflateAncien = 8, 32946
)

// readTIFF reads the directory of the first image; errOtherTIFF where it is another
// kind than those above, any other error where it cannot be read.
func readTIFF(f io.ReaderAt) (*tiffTiles, error) {
	var head [16]byte
	if _, err := f.ReadAt(head[:], 0); err != nil {
		return nil, err
	}
	le := binary.LittleEndian
	big := false
	var dir int64
	switch {
	case head[0] != 'I' || head[1] != 'I':
		return nil, errOtherTIFF
	case le.Uint16(head[2:]) == 42:
		dir = int64(le.Uint32(head[4:]))
	case le.Uint16(head[2:]) == 43 && le.Uint16(head[4:]) == 8:
		big, dir = true, int64(le.Uint64(head[8:]))
	default:
		return nil, errOtherTIFF
	}
	countB, entryB := int64(2), int64(12)
	if big {
		countB, entryB = 8, 20
	}
	var word [8]byte
	if dir < 8 || dir > math.MaxInt64/2 {
		return nil, errOtherTIFF
	}
	if _, err := f.ReadAt(word[:countB], dir); err != nil {
		return nil, err
	}
	n := int64(le.Uint16(word[:]))
	if big {
		n = int64(le.Uint64(word[:]))
	}
	if n < 1 || n > maxTiffTags {
		return nil, errOtherTIFF
	}
	entries := make([]byte, n*entryB)
	if _, err := f.ReadAt(entries, dir+countB); err != nil {
		return nil, err
	}
	t := &tiffTiles{predictor: 1}
	value := map[int]int64{tagSamples: 1, tagPlanar: 1, tagCompression: 1, tagSampleFormat: 1, tagPredictor: 1}
	for i := int64(0); i < n; i++ {
		e := entries[i*entryB : (i+1)*entryB]
		tag, kind := int(le.Uint16(e)), le.Uint16(e[2:])
		a := tiffArray{bytes: map[uint16]int64{1: 1, 3: 2, 4: 4, 16: 8}[kind]}
		if big {
			a.count = int64(le.Uint64(e[4:]))
		} else {
			a.count = int64(le.Uint32(e[4:]))
		}
		if a.bytes == 0 || a.count < 1 || a.count > 1<<40 {
			continue
		}
		inline := entryB - 8 // the bytes after tag, kind and a count of 4
		field := e[8:]
		if big {
			inline, field = 8, e[12:]
		}
		a.at = dir + countB + i*entryB + entryB - inline
		if a.count*a.bytes > inline {
			if big {
				a.at = int64(le.Uint64(field))
			} else {
				a.at = int64(le.Uint32(field))
			}
		}
		switch tag {
		case tagOffsets:
			t.offsets = a
		case tagSizes:
			t.sizes = a
		default:
			if a.count*a.bytes <= inline && a.count == 1 {
				value[tag] = numberOf(field[:a.bytes])
			} else {
				value[tag] = -1
			}
		}
	}
	return t, t.checkLayout(value)
}

// checkLayout refuses whatever is not decoded here.
func (t *tiffTiles) checkLayout(value map[int]int64) error {
	t.cols, t.rows, t.w, t.h = value[tagCols], value[tagRows], value[tagTileW], value[tagTileH]
	t.bits, t.predictor = int(value[tagBits]), int(value[tagPredictor])
	isFloat := t.bits == 32 && value[tagSampleFormat] == 3 && (t.predictor == 1 || t.predictor == 3)
	isWhole := t.bits == 16 && value[tagSampleFormat] == 2 && (t.predictor == 1 || t.predictor == 2)
	c := value[tagCompression]
	if !isFloat && !isWhole || c != compressionDeflate && c != compressionDeflateAncien || value[tagSamples] != 1 ||
		t.cols < 1 || t.rows < 1 || t.w < 1 || t.h < 1 || t.w > maxTileCells || t.h > maxTileCells || t.w*t.h > maxTileCells || t.cols > 1<<31 || t.rows > 1<<31 {
		return errOtherTIFF
	}
	t.across, t.down = (t.cols+t.w-1)/t.w, (t.rows+t.h-1)/t.h
	if t.offsets.count != t.across*t.down || t.sizes.count != t.offsets.count || t.offsets.at < 8 || t.sizes.at < 8 {
		return errOtherTIFF
	}
	return nil
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

// packed reads the compressed bytes of the tile at a place in the grid of tiles into
// buf; none where the file keeps none.
func (t *tiffTiles) packed(f io.ReaderAt, col, row int64, buf []byte) ([]byte, error) {
	at, err := t.offsets.number(f, row*t.across+col)
	if err != nil {
		return nil, err
	}
	size, err := t.sizes.number(f, row*t.across+col)
	if err != nil || size == 0 || at == 0 {
		return nil, err
	}
	// DEFLATE never needs more than its input and a little: 5 bytes in 16,384 and the head.
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
