package survey_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"gradeline/routes"
	"gradeline/routes/grade"
	"gradeline/routes/stationing"
	"gradeline/routes/vector"
	"gradeline/terrain/raster"
	"gradeline/terrain/synth"
)

// A method recovers a grade line from ground heights.
type method struct {
	name    string
	recover func(context.Context, *routes.Ground) (*routes.Profile, error)
}

// methods by the name that -accuracy.methods takes. The first two are what is
// done without care; both interpolate over tagged structures and voids.
var methods = []method{
	{"raw", func(_ context.Context, g *routes.Ground) (*routes.Profile, error) { return grade.RawDifference(g), nil }},
	{"window", func(_ context.Context, g *routes.Ground) (*routes.Profile, error) {
		return grade.MovingWindow(g, 500), nil
	}},
	{"ours", func(ctx context.Context, g *routes.Ground) (*routes.Profile, error) {
		return grade.Recover(ctx, g, grade.Options{})
	}},
	{"surface", func(ctx context.Context, g *routes.Ground) (*routes.Profile, error) { // told that trees are in the heights
		return grade.Recover(ctx, g, grade.Options{SurfaceModel: true})
	}},
}

// ours is the method that the gate guards.
func ours() []method { return methods[2:3] }

// accuracyCells are the cell sizes of the measure, metres.
var accuracyCells = []float64{1, 10, 30, 90}

// recovered is one road read back from its files and recovered by one method.
type recovered struct {
	profile             *routes.Profile
	cellM               float64
	method              string
	sampleS, recoveredS float64
}

// runRoad writes a road's rasters and its line, reads them back as a user's data
// are read, and recovers the grade line by each method at each cell size.
func runRoad(ctx context.Context, o synth.Options, cellsM []float64, use []method) (*synth.Road, []recovered, error) {
	road, err := synth.NewRoad(o)
	if err != nil {
		return nil, nil, err
	}
	dir, err := os.MkdirTemp("", "gradeline-accuracy-")
	if err != nil {
		return nil, nil, err
	}
	defer os.RemoveAll(dir)
	// both forms of writing a structure are used, in turn
	route, err := readBackRoute(ctx, road, synth.Form(o.Seed%2), filepath.Join(dir, "road.geojson"))
	if err != nil {
		return nil, nil, err
	}
	var out []recovered
	for _, cellM := range cellsM {
		paths, err := writeRasters(road, cellM, dir)
		if err != nil {
			return nil, nil, err
		}
		surface, err := raster.Open(ctx, paths, raster.Options{Workers: 1})
		if err != nil {
			return nil, nil, err
		}
		t0 := time.Now()
		ground, err := stationing.Sample(ctx, surface, route, stationing.Options{HalfWidthM: -1})
		sampleS := time.Since(t0).Seconds()
		surface.Close()
		if err != nil {
			return nil, nil, err
		}
		for _, m := range use {
			t0 := time.Now()
			p, err := m.recover(ctx, ground)
			if err != nil {
				return nil, nil, fmt.Errorf("seed %d, %g m, %s: %w", o.Seed, cellM, m.name, err)
			}
			out = append(out, recovered{p, cellM, m.name, sampleS, time.Since(t0).Seconds()})
		}
		for _, p := range paths {
			os.Remove(p)
		}
	}
	return road, out, nil
}

func readBackRoute(ctx context.Context, road *synth.Road, form synth.Form, path string) (*routes.Route, error) {
	text, err := synth.GeoJSON([]*synth.Road{road}, form)
	if err != nil {
		return nil, err
	}
	if err := os.WriteFile(path, text, 0o600); err != nil {
		return nil, err
	}
	var features []routes.Feature
	skipped, err := vector.Read(ctx, path, vector.Options{}, func(f routes.Feature) error {
		features = append(features, f)
		return nil
	})
	if err != nil {
		return nil, err
	}
	rs, more := stationing.Assemble(features)
	if len(rs) != 1 || len(skipped)+len(more) > 0 {
		return nil, fmt.Errorf("%s: %d routes, skipped %v %v", road.Name, len(rs), skipped, more)
	}
	return &rs[0], nil
}

// writeRasters writes tiles at fine cells, as such terrain comes, else one file.
func writeRasters(road *synth.Road, cellM float64, dir string) ([]string, error) {
	deflate := raster.WriteOptions{Creation: []string{"COMPRESS=DEFLATE", "PREDICTOR=3", "ZLEVEL=1", "TILED=YES"}}
	if cellM >= 5 {
		g, err := road.Grid(cellM)
		if err != nil {
			return nil, err
		}
		path := filepath.Join(dir, fmt.Sprintf("terrain-%gm.tif", cellM))
		return []string{path}, raster.Write(path, g, deflate)
	}
	tiles, err := road.Tiles(cellM, 1000)
	if err != nil {
		return nil, err
	}
	var paths []string
	for i, g := range tiles {
		path := filepath.Join(dir, fmt.Sprintf("terrain-%gm-%03d.tif", cellM, i))
		if err := raster.Write(path, g, deflate); err != nil {
			return nil, err
		}
		paths = append(paths, path)
	}
	return paths, nil
}
