package raster_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// A raster is written and read again at two points: one on the ground, one outside.
func Example() {
	dir, err := os.MkdirTemp("", "raster-example-*")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	g := &terrain.Grid{Cols: 100, Rows: 100, WestX: 11, NorthY: 46.01, StepX: .0001, StepY: .0001, CRS: "EPSG:4326"}
	for k := range g.Cols * g.Rows {
		g.ElevationM = append(g.ElevationM, float32(1500+k%g.Cols)) // a metre more each cell to the east
	}
	path := filepath.Join(dir, "dem.tif")
	if err := raster.Write(path, g, raster.WriteOptions{}); err != nil {
		fmt.Println(err)
		return
	}
	s, err := raster.Open(context.Background(), []string{path}, raster.Options{})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer s.Close()
	out := make([]terrain.Sample, 2)
	if err := s.Sample(context.Background(), []terrain.Point{{LonDeg: 11.005, LatDeg: 46.005}, {LonDeg: 12, LatDeg: 46}}, out); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f m, %s\n", out[0].ElevationM, out[0].Miss)
	fmt.Println(out[1].Miss)
	// Output:
	// 1549.5 m, hit
	// outside every raster
}
