package raster

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"gradeline/terrain"
)

// BenchmarkKinds samples one line over the same terrain in the ways in which open data is packed;
// the processor time of each stands against that of DEFLATE tiles. Every block is decoded again.
func BenchmarkKinds(b *testing.B) {
	rng := rand.New(rand.NewPCG(5, 5))
	rough := func(x, y float64) float64 { return hills(x, y) + .03*rng.NormFloat64() }
	g := grid("EPSG:26913", 490000, 4410000, 5, 4096, 4096, rough)
	pts := winding(200000, -105.08, 39.68, .14, 1e-4)
	out := make([]terrain.Sample, len(pts))
	tiles := []string{"TILED=YES", "BLOCKXSIZE=512", "BLOCKYSIZE=512", "PREDICTOR=3"}
	base := 0.0
	for _, k := range []struct {
		name     string
		creation []string
	}{
		{"DEFLATE-tiles", append([]string{"COMPRESS=DEFLATE"}, tiles...)},
		{"ZSTD-tiles", append([]string{"COMPRESS=ZSTD"}, tiles...)},
		{"LZW-tiles", append([]string{"COMPRESS=LZW"}, tiles...)},
		{"DEFLATE-strips", []string{"COMPRESS=DEFLATE", "PREDICTOR=3"}},
		{"LZW-strips", []string{"COMPRESS=LZW", "PREDICTOR=3"}},
	} {
		file := write(b, filepath.Join(b.TempDir(), k.name+".tif"), g, WriteOptions{Creation: k.creation})
		b.Run(k.name, func(b *testing.B) {
			s := open(b, Options{Workers: 1, CacheBytes: 1}, file)
			cpu := cpuSeconds()
			for b.Loop() {
				if err := s.Sample(context.Background(), pts, out); err != nil {
					b.Fatal(err)
				}
				s.handles.close() // and with it GDAL's own cache of the file
			}
			each := (cpuSeconds() - cpu) / float64(b.N)
			if base == 0 {
				base = each
			}
			b.ReportMetric(each*1e3, "cpu-ms/op")
			b.ReportMetric(each/base, "x-of-DEFLATE-tiles")
		})
	}
}
