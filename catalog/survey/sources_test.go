package survey

import (
	"path/filepath"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/terrain"
	"gradeline/terrain/raster"
)

// A descent names the rasters under its road alone. A tile elsewhere in the folder that is added later does
// not put an approved descent in question; one under the road does.
func TestADescentNamesTheRastersUnderIt(t *testing.T) {
	s := demoSetup(t)
	tile := func(name string, lonDeg, latDeg float64, rows int) string {
		path := filepath.Join(t.TempDir(), name)
		g := &terrain.Grid{Cols: 40, Rows: rows, WestX: lonDeg, NorthY: latDeg, StepX: 1. / 3600, StepY: 1. / 3600, CRS: "EPSG:4326", ElevationM: make([]float32, 40*rows)}
		for i := range g.ElevationM {
			g.ElevationM[i] = float32(100 + i%40)
		}
		if err := raster.Write(path, g, raster.WriteOptions{}); err != nil {
			t.Fatal(err)
		}
		return path
	}
	s.Terrain = append(s.Terrain, tile("elsewhere.tif", -20, 40, 40))
	first := func() *catalog.Entry {
		t.Helper()
		job := runJob(t, s)
		defer job.Close()
		cat, err := store.Open(t.Context(), s.Catalog, store.Options{})
		if err != nil {
			t.Fatal(err)
		}
		defer cat.Close()
		e, err := cat.Descent(t.Context(), "veltrane-pass-road-f-4.7")
		if err != nil {
			t.Fatal(err)
		}
		if e.Review.State != catalog.Approved {
			if err := cat.Review(t.Context(), e.Descent.ID, catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
				t.Fatal(err)
			}
		}
		return &e
	}
	one := first()
	if p := one.Provenance; len(p.Rasters) != 1 || p.Rasters[0][:11] != "terrain.tif" {
		t.Errorf("%q", p.Rasters)
	}
	s.Terrain = append(s.Terrain, tile("further.tif", -21, 40, 41))
	if e := first(); e.Review.State != catalog.Approved || e.Review.InQuestion != "" {
		t.Errorf("a tile elsewhere: %+v", e.Review)
	}
	crest := one.Line[0]
	s.Terrain = append(s.Terrain, tile("under.tif", crest.LonDeg+0.005, crest.LatDeg, 40)) // beside the road, within a kilometre
	if e := first(); e.Review.InQuestion == "" || len(e.Provenance.Rasters) != 2 {
		t.Errorf("a tile at the road: %q, %q", e.Review.InQuestion, e.Provenance.Rasters)
	}
}
