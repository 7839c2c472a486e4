package raster

import (
	"runtime"
	"unsafe"

	"github.com/klauspost/compress/zstd"
)

/*
#include <libdeflate.h>
*/
import "C"

// How a TIFF's tiles are compressed, by the numbers of its tag 259: 8 and 32946 by
// Adobe's technical notes, 50000 as libtiff writes it.
const (
	compressionDeflate       = 8
	compressionDeflateBefore = 32946
	compressionZSTD          = 50000
)

// unpackers make the bytes of a tile from its compressed bytes. Each fills raw or fails.
var unpackers = map[int64]func(i *inflater, raw []byte) bool{
	compressionDeflate:       (*inflater).unpackDeflate,
	compressionDeflateBefore: (*inflater).unpackDeflate,
	compressionZSTD:          (*inflater).unpackZSTD,
}

func (i *inflater) unpackDeflate(raw []byte) bool {
	var got C.size_t
	res := C.libdeflate_zlib_decompress((*C.struct_libdeflate_decompressor)(unsafe.Pointer(i.c)), unsafe.Pointer(&i.packed[0]), C.size_t(len(i.packed)), unsafe.Pointer(&raw[0]), C.size_t(len(raw)), &got)
	return res == C.LIBDEFLATE_SUCCESS && int(got) == len(raw)
}

// maxUnpackedB bounds what a tile's bytes may grow to: as many cells as a tile may have, four bytes each.
const maxUnpackedB = 4 * maxTileCells

func (i *inflater) unpackZSTD(raw []byte) bool {
	if i.zstd == nil {
		var err error
		if i.zstd, err = zstd.NewReader(nil, zstd.WithDecoderConcurrency(1), zstd.WithDecoderMaxMemory(maxUnpackedB)); err != nil {
			return false
		}
		runtime.SetFinalizer(i.zstd, (*zstd.Decoder).Close)
	}
	out, err := i.zstd.DecodeAll(i.packed, raw[:0])
	return err == nil && len(out) == len(raw) && &out[0] == &raw[0]
}
