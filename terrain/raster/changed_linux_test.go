package raster

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// A file that was written again, with its old size and its old time put back, is seen.
func TestATimePutBackIsSeen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.tif")
	write := func(text string) int64 {
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, time.Unix(1e9, 0), time.Unix(1e9, 0)); err != nil {
			t.Fatal(err)
		}
		st, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		return changedNS(st)
	}
	first := write("one")
	time.Sleep(20 * time.Millisecond) // a file system's clock may tick by 4 ms
	if second := write("two"); second <= first {
		t.Errorf("%d, then %d", first, second)
	}
}
