// Package cmemory makes C.malloc return cleared memory. Each package that imports godal imports it
// for this effect alone.
//
// Go may store a C pointer in C memory only if that memory does not hold what looks
// like an old Go pointer (pkg.go.dev/cmd/cgo, "Passing pointers": "avoid passing
// uninitialized C memory to Go code if the Go code is going to store pointer values in
// it"). godal v0.0.18 does so in each call with options: it stores pointers in new
// blocks from malloc. Where such a block held the address of a freed Go object, the
// garbage collector ended the program with "found pointer to free object". The linker
// lets the program's own C code, and C.malloc of every Go package, call the malloc of
// this package, which clears what it returns. Shared libraries keep their own malloc.
//
// On Linux only: other linkers have no such option.
package cmemory

/*
#cgo linux LDFLAGS: -Wl,--wrap=malloc
#include <stdint.h>
#include <stdlib.h>

// dirty leaves blocks of the size in the allocator's lists, full of ones.
static void dirty(size_t size) {
	enum { blocks = 64 };
	volatile unsigned char *p[blocks];
	for (int i = 0; i < blocks; i++)
		if ((p[i] = malloc(size)))
			for (size_t k = 0; k < size; k++) p[i][k] = 0xff;
	for (int i = 0; i < blocks; i++) free((void *)p[i]);
}
*/
import "C"

import "unsafe"

// Leftover returns the number of bytes of a new block of C memory that still hold their earlier
// content: 0 where this package works.
func Leftover(sizeB int) int {
	C.dirty(C.size_t(sizeB))
	p := C.malloc(C.size_t(sizeB))
	defer C.free(p)
	n := 0
	for _, b := range unsafe.Slice((*byte)(p), sizeB) {
		if b != 0 {
			n++
		}
	}
	return n
}
