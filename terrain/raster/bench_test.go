package raster

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"syscall"
	"testing"

	"gradeline/terrain"
)

func hills(x, y float64) float64 {
	return 1500 + 200*math.Sin(x/900)*math.Cos(y/700) + 20*math.Sin(x/90+y/130)
}

// winding makes n points along a winding line, a step apart in degrees, that stays
// within the box.
func winding(n int, west, south, sizeDeg, stepDeg float64) []terrain.Point {
	pts := make([]terrain.Point, n)
	x, y, h := .5, .5, 0.0
	for i := range pts {
		h += .3 * math.Sin(float64(i)/40)
		x += math.Cos(h) * stepDeg / sizeDeg
		y += math.Sin(h) * stepDeg / sizeDeg
		if x < .05 || x > .95 || y < .05 || y > .95 {
			h += math.Pi / 7
			x, y = math.Min(.95, math.Max(.05, x)), math.Min(.95, math.Max(.05, y))
		}
		pts[i] = terrain.Point{LonDeg: west + x*sizeDeg, LatDeg: south + y*sizeDeg}
	}
	return pts
}

// crossSections puts 41 points across the line at each of its points.
func crossSections(line []terrain.Point, spacingDeg float64) []terrain.Point {
	var out []terrain.Point
	for i := 1; i < len(line); i++ {
		dx, dy := line[i].LonDeg-line[i-1].LonDeg, line[i].LatDeg-line[i-1].LatDeg
		l := math.Hypot(dx, dy) + 1e-12
		for k := -20; k <= 20; k++ {
			o := float64(k) * spacingDeg / l
			out = append(out, terrain.Point{LonDeg: line[i].LonDeg - dy*o, LatDeg: line[i].LatDeg + dx*o})
		}
	}
	return out
}

// cpuSeconds is the time that this process has had on any core.
func cpuSeconds() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// BenchmarkSample measures samples on cached blocks. Mpts/cpu-s is per
// second of processor time, which other load on the machine doesn't change much.
func BenchmarkSample(b *testing.B) {
	dir := b.TempDir()
	utm := write(b, filepath.Join(dir, "utm.tif"), grid("EPSG:26913", 490000, 4410000, 5, 4096, 4096, hills),
		WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=512", "BLOCKYSIZE=512"}})
	geo := write(b, filepath.Join(dir, "geo.tif"), grid("EPSG:4326", -105.2, 39.9, 1.0/10800, 3000, 3000, func(x, y float64) float64 {
		return hills(x*85000, y*111000)
	}), WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=512", "BLOCKYSIZE=512"}})
	line := winding(200000, -105.08, 39.68, .14, 1e-4)
	for _, c := range []struct {
		name  string
		file  string
		pts   []terrain.Point
		cubic bool
	}{
		{"route/utm", utm, line, false},
		{"route/geographic", geo, line, false},
		{"sections/utm", utm, crossSections(line[:5000], 5e-5), false},
		{"sections/geographic", geo, crossSections(line[:5000], 5e-5), false},
		{"cubic/utm", utm, line, true},
		{"small/utm", utm, line[:41], false},
	} {
		b.Run(c.name, func(b *testing.B) {
			s := open(b, Options{Workers: 1, Cubic: c.cubic}, c.file)
			out := make([]terrain.Sample, len(c.pts))
			run := func() {
				if err := s.Sample(context.Background(), c.pts, out); err != nil {
					b.Fatal(err)
				}
			}
			run()
			for i := range out {
				if out[i].Miss != terrain.Hit {
					b.Fatalf("point %d %v: %v", i, c.pts[i], out[i].Miss)
				}
			}
			before := s.cache.decodes
			cpu := cpuSeconds()
			b.ReportAllocs()
			b.ResetTimer()
			for b.Loop() {
				run()
			}
			n := float64(b.N) * float64(len(c.pts))
			b.ReportMetric(n/b.Elapsed().Seconds()/1e6, "Mpts/s")
			b.ReportMetric(n/(cpuSeconds()-cpu)/1e6, "Mpts/cpu-s")
			if s.cache.decodes != before {
				b.Fatalf("%d blocks decoded again", s.cache.decodes-before)
			}
		})
	}
}

// BenchmarkCold measures samples whose blocks must be decoded, against GDAL decoding
// the same blocks and nothing else: the ratio of the two is what sampling costs.
func BenchmarkCold(b *testing.B) {
	file := write(b, filepath.Join(b.TempDir(), "cold.tif"), grid("EPSG:26913", 490000, 4410000, 5, 4096, 4096, hills),
		WriteOptions{Creation: []string{"TILED=YES", "BLOCKXSIZE=512", "BLOCKYSIZE=512", "COMPRESS=DEFLATE", "PREDICTOR=3"}})
	pts := winding(200000, -105.08, 39.68, .14, 1e-4)
	out := make([]terrain.Sample, len(pts))
	for _, workers := range []int{1, 2} {
		b.Run("sample/"+string(rune('0'+workers)), func(b *testing.B) {
			s := open(b, Options{Workers: workers, CacheBytes: 1}, file)
			cpu := cpuSeconds()
			for b.Loop() {
				if err := s.Sample(context.Background(), pts, out); err != nil {
					b.Fatal(err)
				}
				s.handles.close() // and with it GDAL's own cache of the file
			}
			b.ReportMetric((cpuSeconds()-cpu)/float64(b.N)*1e3, "cpu-ms/op")
			b.ReportMetric(float64(s.cache.decodes)/float64(b.N), "blocks/op")
		})
	}
	b.Run("decode", func(b *testing.B) {
		s := open(b, Options{}, file)
		sample(b, s, pts)
		var keys []uint64
		for k := range s.cache.blocks {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		buf := make([]float32, 512*512)
		cpu := cpuSeconds()
		for b.Loop() {
			ds, err := openDataset(file, false, openConfig, func(string) {})
			if err != nil {
				b.Fatal(err)
			}
			band := ds.Bands()[0]
			for _, k := range keys {
				c, r, w, h := s.tiles[0].window(int64(uint32(k)))
				if err := band.Read(int(c), int(r), buf, int(w), int(h)); err != nil {
					b.Fatal(err)
				}
			}
			ds.Close()
		}
		b.ReportMetric((cpuSeconds()-cpu)/float64(b.N)*1e3, "cpu-ms/op")
		b.ReportMetric(float64(len(keys)), "blocks/op")
	})
}
