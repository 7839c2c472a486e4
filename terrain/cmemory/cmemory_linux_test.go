package cmemory

import "testing"

// Blocks of all sizes that godal stores pointers in: its call's context (24 bytes) and
// its lists of texts (8 bytes a text). Without the package nearly all of a block is left over.
func TestCMemoryIsCleared(t *testing.T) {
	for _, sizeB := range []int{8, 16, 24, 32, 104, 1000, 8192, 200_000} {
		if n := Leftover(sizeB); n != 0 {
			t.Errorf("%d of %d bytes are left over", n, sizeB)
		}
	}
}
