package survey

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
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

// A hill that continues in another road is made from the rasters under that road too.
func TestAHillNamesTheRastersUnderTheRoadsItContinuesIn(t *testing.T) {
	dir := t.TempDir()
	const stepDeg = 1e-4
	tile := func(name string, west, cols int) string {
		g := &terrain.Grid{Cols: cols, Rows: 500, WestX: 8 + stepDeg*float64(west), NorthY: 46.04, StepX: stepDeg, StepY: stepDeg, CRS: "EPSG:4326", ElevationM: make([]float32, cols*500)}
		for i := range g.ElevationM {
			eastM := (float64(west+i%cols) + 0.5) * stepDeg * degreeEastM
			g.ElevationM[i] = float32(1000 - 0.1*min(max(eastM, 0), 3500))
		}
		path := filepath.Join(dir, name)
		if err := raster.Write(path, g, raster.WriteOptions{}); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var osm strings.Builder
	osm.WriteString(`<osm version="0.6">`)
	for i := -6; i <= 48; i++ { // a node each 100 m; 1,600 m below the crest the roads meet at 60°, too sharply to be one
		on := float64(max(0, i-16))
		fmt.Fprintf(&osm, `<node id="%d" version="1" lat="%.7f" lon="%.7f"/>`, 100+i, 46+86.6*on/degreeNorthM, 8+(100*float64(i)-50*on)/degreeEastM)
	}
	fmt.Fprintf(&osm, `<node id="500" version="1" lat="45.995" lon="%.7f"/>`, 8+1600/degreeEastM)
	way := func(id, from, to int, name string) {
		fmt.Fprintf(&osm, `<way id="%d" version="1"><tag k="highway" v="primary"/><tag k="name" v="%s"/>`, id, name)
		for i := from; i <= to; i++ {
			fmt.Fprintf(&osm, `<nd ref="%d"/>`, 100+i)
		}
		osm.WriteString("</way>")
	}
	way(1, -6, 16, "Upper Road")
	way(2, 16, 48, "Lower Road")
	osm.WriteString(`<way id="3" version="1"><tag k="highway" v="primary"/><tag k="name" v="Side Road"/><nd ref="116"/><nd ref="500"/></way></osm>`)
	roads := filepath.Join(dir, "roads.osm")
	if err := os.WriteFile(roads, []byte(osm.String()), 0o600); err != nil {
		t.Fatal(err)
	}
	s := demoSetup(t)
	s.Roads, s.Catalog = []string{roads}, filepath.Join(dir, "c.gpkg")
	s.Terrain = []string{tile("west.tif", -100, 300), tile("middle.tif", 200, 150), tile("east.tif", 350, 300), tile("far.tif", 700, 300)}
	job := runJob(t, s)
	defer job.Close()
	cat, err := store.Open(t.Context(), s.Catalog, store.Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	list, err := cat.Descents(t.Context(), store.Filter{})
	if err != nil {
		t.Fatal(err)
	}
	found := false
	for _, e := range list {
		t.Logf("%s: %v, %q", e.Descent.ID, e.Descent.GoesOn, e.Provenance.Rasters)
		if len(e.Descent.GoesOn) == 0 {
			continue
		}
		found = true
		if names := strings.Join(e.Provenance.Rasters, " "); !strings.Contains(names, "east.tif") || strings.Contains(names, "far.tif") {
			t.Errorf("%s names %s", e.Descent.ID, names)
		}
	}
	if !found {
		t.Error("no hill continues in another road")
	}
}
