package raster

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"gradeline/terrain"
)

// A stamp stays while nothing changes, and changes with whatever may change a height.
func TestStampChangesWithTheGround(t *testing.T) {
	dir := t.TempDir()
	a := write(t, filepath.Join(dir, "a.tif"), grid("EPSG:26913", 490000, 4410000, 10, 300, 300, hills), WriteOptions{})
	b := write(t, filepath.Join(dir, "b.tif"), grid("EPSG:26913", 493000, 4410000, 10, 300, 300, hills), WriteOptions{})
	first := open(t, Options{}, a, b).Stamp()
	if first == "" || first != open(t, Options{Workers: 2, CacheBytes: 1 << 20}, a, b).Stamp() {
		t.Fatalf("%q is not the stamp of the same ground opened again", first)
	}
	seen := map[string]string{first: "both"}
	differs := func(what, stamp string) {
		t.Helper()
		if was := seen[stamp]; stamp == "" || was != "" {
			t.Errorf("%s: stamp %q as of %s", what, stamp, was)
		}
		seen[stamp] = what
	}
	differs("one file", open(t, Options{}, a).Stamp())
	differs("other order", open(t, Options{}, b, a).Stamp())
	differs("other unit", open(t, Options{VertUnit: terrain.Foot}, a, b).Stamp())
	differs("cubic", open(t, Options{Cubic: true}, a, b).Stamp())
	if err := os.Chtimes(b, time.Now(), time.Now().Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	differs("touched", open(t, Options{}, a, b).Stamp())
	if err := os.WriteFile(filepath.Join(dir, "b.prj"), []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	differs("file beside", open(t, Options{}, a, b).Stamp())
}
