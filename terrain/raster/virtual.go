package raster

/*
#cgo pkg-config: gdal
#define _GNU_SOURCE // struct stat64
#include <stdlib.h>
#include <cpl_conv.h>
#include <cpl_vsi.h>

static long long sizeOf(const char *path) {
	VSIStatBufL st;
	if (VSIStatExL(path, &st, VSI_STAT_EXISTS_FLAG | VSI_STAT_SIZE_FLAG) != 0) return -1;
	return (long long)st.st_size;
}
*/
import "C"

import (
	"fmt"
	"io"
	"runtime"
	"strings"
	"unsafe"
)

// virtualFile reads bytes of a file behind an address, or in one of GDAL's virtual file systems, with
// GDAL's own means and credentials.
type virtualFile struct{ handle *C.VSILFILE }

// ReadAt implements io.ReaderAt.
func (f virtualFile) ReadAt(b []byte, off int64) (int, error) {
	if len(b) == 0 {
		return 0, nil
	}
	if C.VSIFSeekL(f.handle, C.vsi_l_offset(off), C.SEEK_SET) != 0 {
		return 0, fmt.Errorf("byte %d cannot be found", off)
	}
	n := int(C.VSIFReadL(unsafe.Pointer(&b[0]), 1, C.size_t(len(b)), f.handle))
	if n < len(b) {
		return n, io.ErrUnexpectedEOF
	}
	return n, nil
}

// Of a virtual file a few pieces are read: each is a request to a server.
const (
	virtualPieceB = 16 << 10
	virtualPieces = 3
)

// virtualFingerprint is the size of a virtual file and the SHA-256 of its size, its first and last 16
// KiB and three pieces of 16 KiB evenly between. Where its server does not tell the size, both are
// empty.
func virtualFingerprint(path string, config []string) (size int64, sum string, err error) {
	runtime.LockOSThread() // the settings hold for one thread
	defer runtime.UnlockOSThread()
	for _, c := range config {
		name, value, _ := strings.Cut(c, "=")
		cName, cValue := C.CString(name), C.CString(value)
		before := C.CPLGetThreadLocalConfigOption(cName, nil)
		var kept *C.char
		if before != nil {
			kept = C.CString(C.GoString(before))
		}
		C.CPLSetThreadLocalConfigOption(cName, cValue)
		C.free(unsafe.Pointer(cValue))
		defer func() {
			C.CPLSetThreadLocalConfigOption(cName, kept)
			C.free(unsafe.Pointer(cName))
			C.free(unsafe.Pointer(kept))
		}()
	}
	cPath, mode := C.CString(path), C.CString("rb")
	defer C.free(unsafe.Pointer(cPath))
	defer C.free(unsafe.Pointer(mode))
	if size = int64(C.sizeOf(cPath)); size <= 0 {
		return 0, "", nil
	}
	f := virtualFile{C.VSIFOpenL(cPath, mode)}
	if f.handle == nil {
		return 0, "", fmt.Errorf("its bytes cannot be read")
	}
	defer C.VSIFCloseL(f.handle) // only read
	sum, err = fingerprintOf(f, size, virtualPieces*virtualPieceB, virtualPieceB, virtualPieceB, virtualPieces)
	return size, sum, err
}
