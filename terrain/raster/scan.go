package raster

/*
#include <stddef.h>

// Plain loops without branches, which the compiler turns into vector code.
__attribute__((optimize("O3", "no-trapping-math")))
static void gradeline_scan(const float *v, size_t n, float lo, float hi, int *outside, int *zeros) {
	int o = 0, z = 0;
	for (size_t i = 0; i < n; i++) {
		o += !((v[i] >= lo) & (v[i] <= hi));
		z += (v[i] < 1e-30f) & (v[i] > -1e-30f);
	}
	*outside = o;
	*zeros = z;
}

__attribute__((optimize("O3", "no-trapping-math")))
static int gradeline_equal(const float *v, size_t n, float x) {
	int e = 0;
	for (size_t i = 0; i < n; i++)
		e += v[i] == x;
	return e;
}
*/
import "C"

import "unsafe"

// isClean scans a block at the speed of memory and reports whether all its values are heights: none
// outside lo to hi, none a no-data value, too few zeros for a hole. Most blocks are clean and need
// no closer search.
func (t *tile) isClean(buf []float32) bool {
	if len(buf) == 0 {
		return true
	}
	v, n := (*C.float)(unsafe.Pointer(&buf[0])), C.size_t(len(buf))
	var outside, zeros C.int
	C.gradeline_scan(v, n, C.float(t.lo), C.float(t.hi), &outside, &zeros)
	if outside > 0 || zeros >= leastHole {
		return false
	}
	for _, nd := range t.NoData {
		if x := float32(nd); x >= t.lo && x <= t.hi && C.gradeline_equal(v, n, C.float(x)) > 0 {
			return false
		}
	}
	return true
}
