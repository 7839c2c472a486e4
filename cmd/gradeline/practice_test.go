package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// A place's name gives what its coordinates give: those of the demo's own file of sites.
func TestPracticeNearAPlaceByName(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	b, err := os.ReadFile(filepath.Join(dir, "sites.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var sites struct {
		Features []struct {
			Properties struct{ Name string }
			Geometry   struct{ Coordinates [2]float64 }
		}
	}
	if err := json.Unmarshal(b, &sites); err != nil {
		t.Fatal(err)
	}
	near := func(place string, code int) result {
		return gradeline(t, "practice", "--catalog", cat, "--class", "us-5axle", "--margin", "1%", "--within", "4km", "--near", place, "--json").want(t, code)
	}
	rungs := 0
	for _, f := range sites.Features {
		at := f.Geometry.Coordinates
		point, name := near(fmt.Sprintf("%.9f,%.9f", at[0], at[1]), exitDone), near(f.Properties.Name, exitDone)
		if name.out != point.out {
			t.Errorf("near %q gives another ladder than near %v", f.Properties.Name, at)
		}
		rungs += len(parse(t, point)["ladder"].([]any))
	}
	if rungs == 0 {
		t.Error("no place has a practice grade near it: nothing was compared")
	}
	at := sites.Features[0].Geometry.Coordinates
	near(fmt.Sprintf("%.4f,%.4f", at[1], at[0]), exitUsage).says(t, fmt.Sprintf("longitude comes first: %.4f", at[0])[:len("longitude comes first: -40")])
	near("Veltrane sumit", exitUsage).says(t, "no place", "did you mean Veltrane summit?")
	if len(parse(t, near("VELTRANE PASS ROAD", exitDone))["ladder"].([]any)) == 0 {
		t.Error("no practice grade near the road's own crests")
	}
}
