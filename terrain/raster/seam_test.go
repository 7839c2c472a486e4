package raster

import (
	"context"
	"math"
	"os"
	"testing"

	"pgregory.net/rapid"

	"gradeline/terrain"
)

// For any tiling, any seed: neighbouring points across any seam differ by no more
// than the surface's slope allows, and each is a hit.
func TestNoStepAcrossSeams(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(r, "tiles a side")
		shared := rapid.IntRange(0, 3).Draw(r, "shared")
		dir, err := os.MkdirTemp("", "seam-*")
		if err != nil {
			r.Fatal(err)
		}
		defer os.RemoveAll(dir)
		size := n*rapid.IntRange(4, 30).Draw(r, "cells a tile") + shared
		g := grid("EPSG:26913", 500000, 4400000, 10, size, size, func(x, y float64) float64 { return 1500 + (x-500000)/7 + (y-4400000)/11 })
		tilesOf(t, dir, g, n, shared, WriteOptions{})
		s, err := Open(context.Background(), []string{dir}, Options{})
		if err != nil {
			r.Fatal(err)
		}
		defer s.Close()
		lat := rapid.Float64Range(39.7475, 39.7495).Draw(r, "lat")
		var pts []terrain.Point
		for k := range 400 {
			pts = append(pts, terrain.Point{LonDeg: -105 + float64(k)*1e-5, LatDeg: lat})
		}
		last, hits := math.NaN(), 0
		for _, p := range sample(t, s, pts) {
			if p.Miss != terrain.Hit {
				last = math.NaN()
				continue
			}
			if step := p.ElevationM - last; !math.IsNaN(last) && (step < .10 || step > .14) { // 0.856 m at 1/7, and a little convergence
				r.Fatalf("a step of %f m", step)
			}
			last = p.ElevationM
			hits++
		}
		if size >= 60 && hits < 390 {
			r.Fatalf("%d hits of 400", hits)
		}
	})
}
