package raster

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"path/filepath"
	"sync"
	"testing"

	"gradeline/terrain"
)

func sameSamples(a, b []terrain.Sample) int {
	for i := range a {
		if math.Float64bits(a[i].ElevationM) != math.Float64bits(b[i].ElevationM) || a[i].Miss != b[i].Miss || a[i].Source != b[i].Source || a[i].CellM != b[i].CellM {
			return i
		}
	}
	return -1
}

// One worker or many, one call or many at once, a roomy cache or none to speak of:
// the bits are the same.
func TestWorkersCacheAndGoroutinesDontMatter(t *testing.T) {
	dir := t.TempDir()
	g := grid("EPSG:26913", 490000, 4410000, 10, 1200, 1200, hills)
	for k := 0; k < len(g.ElevationM); k += 4099 {
		g.ElevationM[k] = nan32
	}
	tilesOf(t, dir, g, 4, 2, WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=128", "COMPRESS=DEFLATE"}})
	const seed = 17
	rng := rand.New(rand.NewPCG(seed, 6))
	pts := append(winding(30000, -105.11, 39.74, .13, 1e-4), randomPoints(rng, 30000, -105.13, 39.73, -104.97, 39.85)...)
	want := sample(t, open(t, Options{Workers: 1}, dir), pts)
	for _, o := range []Options{{Workers: 2}, {Workers: 7}, {Workers: 3, CacheBytes: 1}, {Workers: 2, CacheBytes: 1 << 20}} {
		s := open(t, o, dir)
		var wg sync.WaitGroup
		for n := range 4 {
			wg.Go(func() {
				out := make([]terrain.Sample, len(pts))
				for lo := 0; lo < len(pts); {
					hi := min(len(pts), lo+len(pts)/(1+3*n))
					if err := s.Sample(context.Background(), pts[lo:hi], out[lo:hi]); err != nil {
						t.Error(err)
					}
					lo = hi
				}
				if i := sameSamples(want, out); i >= 0 {
					t.Errorf("seed %d, %+v: point %d is %+v, want %+v", seed, o, i, out[i], want[i])
				}
			})
		}
		wg.Wait()
		if s.cache.used > max(o.CacheBytes, 0) && o.CacheBytes > 1 {
			t.Errorf("%+v: cache holds %d bytes", o, s.cache.used)
		}
	}
}

// In one call each block that the points need is decoded once, whatever their order
// and however small the cache; a second call decodes none if the cache holds them.
func TestEachBlockIsDecodedOnce(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "x.tif"), grid("EPSG:26913", 490000, 4410000, 10, 1024, 1024, hills),
		WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=128", "BLOCKYSIZE=128"}})
	pts := randomPoints(rand.New(rand.NewPCG(1, 1)), 20000, -105.11, 39.753, -105.0, 39.836)
	for _, isCubic := range []bool{false, true} {
		small := open(t, Options{CacheBytes: 1, Cubic: isCubic}, file)
		out := sample(t, small, pts)
		for _, o := range out {
			if o.Miss != terrain.Hit {
				t.Fatal(o)
			}
		}
		if small.cache.decodes != 64 {
			t.Errorf("cubic %v: %d decodes of 64 blocks", isCubic, small.cache.decodes)
		}
		roomy := open(t, Options{Cubic: isCubic}, file)
		sample(t, roomy, pts)
		sample(t, roomy, pts)
		if roomy.cache.decodes != 64 {
			t.Errorf("cubic %v: %d decodes of 64 blocks in two calls", isCubic, roomy.cache.decodes)
		}
	}
}

// Goroutines that want one block at the same time decode it once.
func TestCacheDecodesOnceForAll(t *testing.T) {
	c := newBlockCache(1 << 20)
	var wg sync.WaitGroup
	var mu sync.Mutex
	fills := map[uint64]int{}
	for range 8 {
		wg.Go(func() {
			for key := range uint64(50) {
				b := c.acquire(key, 1000, func(buf []float32) error {
					mu.Lock()
					fills[key]++
					mu.Unlock()
					for i := range buf {
						buf[i] = float32(key)
					}
					return nil
				})
				if b.data[0] != float32(key) || b.data[999] != float32(key) {
					t.Errorf("block %d holds %v", key, b.data[0])
				}
				c.release(b)
			}
		})
	}
	wg.Wait()
	for key, n := range fills {
		if n != 1 {
			t.Errorf("block %d was decoded %d times", key, n)
		}
	}
	if c.used != 50*4000 {
		t.Errorf("%d bytes used", c.used)
	}
}

// A block in use keeps its values while others push it out.
func TestCacheKeepsBlocksInUse(t *testing.T) {
	c := newBlockCache(3000)
	fill := func(v float32) func([]float32) error {
		return func(buf []float32) error {
			for i := range buf {
				buf[i] = v
			}
			return nil
		}
	}
	held := c.acquire(1, 500, fill(1))
	for key := uint64(2); key < 40; key++ {
		c.release(c.acquire(key, 500, fill(float32(key))))
	}
	for _, v := range held.data {
		if v != 1 {
			t.Fatalf("a held block was overwritten by %v", v)
		}
	}
	c.release(held)
	if c.used > 3000 || len(c.blocks) != c.lru.Len() {
		t.Errorf("%d bytes, %d blocks, %d listed", c.used, len(c.blocks), c.lru.Len())
	}
}

func TestCancelAndMisuse(t *testing.T) {
	file := write(t, filepath.Join(t.TempDir(), "x.tif"), flat(1500), WriteOptions{})
	s := open(t, Options{}, file)
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	out := make([]terrain.Sample, 1)
	if err := s.Sample(ctx, []terrain.Point{inFlat}, out); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	if err := s.Sample(context.Background(), []terrain.Point{inFlat, inFlat}, out); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("%v", err)
	}
	if _, err := Open(ctx, []string{file}, Options{}); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
	bad := []terrain.Point{{LonDeg: math.NaN(), LatDeg: 1}, {LonDeg: 200, LatDeg: 1}, {LonDeg: 39.75, LatDeg: -105}, {LonDeg: math.Inf(1), LatDeg: 0}}
	for _, o := range sample(t, s, bad) {
		if o.Miss != terrain.Outside || !math.IsNaN(o.ElevationM) {
			t.Errorf("%+v", o)
		}
	}
	other, err := Open(context.Background(), []string{file}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(other.Close(), other.Close()); err != nil {
		t.Error(err)
	}
	if err := other.Sample(context.Background(), []terrain.Point{inFlat}, out); !errors.Is(err, terrain.ErrRead) {
		t.Errorf("%v", err)
	}
}
