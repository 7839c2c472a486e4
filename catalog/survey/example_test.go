package survey_test

import (
	"context"
	"fmt"
	"io/fs"
	"log"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/catalog/holding"
	"gradeline/catalog/survey"
	"gradeline/data"
)

// A complete survey of the embedded, invented example: three roads' descents, with the
// advice for every weight class, in a catalogue.
func Example() {
	dir, err := os.MkdirTemp("", "survey")
	check(err)
	defer os.RemoveAll(dir)
	demo, err := fs.Sub(data.Files, "demo")
	check(err)
	check(os.CopyFS(dir, demo))
	classes, err := holding.DefaultClasses()
	check(err)

	job, err := survey.Begin(context.Background(), survey.Setup{
		Options: survey.Options{Classes: classes, Units: catalog.US},
		Terrain: []string{filepath.Join(dir, "terrain.tif")},
		Roads:   []string{filepath.Join(dir, "routes.geojson")},
		Catalog: filepath.Join(dir, "hills.gpkg"),
		KeepAll: true,
	})
	check(err)
	defer job.Close()
	check(job.Run(context.Background()))
	for d, err := range job.Descents() {
		check(err)
		fmt.Printf("%s: %.0f km at %.0f %%, advice for %d classes\n", d.ID, d.LengthM/1000, d.MeanDowngradePct, len(d.Holds))
	}
	for gap, err := range job.Gaps() {
		check(err)
		fmt.Println("gap:", gap)
	}
	// Output:
	// veltrane-pass-road-f-4.7: 10 km at 6 %, advice for 9 classes
	// veltrane-pass-road-b-4.1: 3 km at 4 %, advice for 9 classes
	// old-quendrel-road-f-0.5: 5 km at 11 %, advice for 9 classes
	// old-quendrel-road-b-13.7: 5 km at 6 %, advice for 9 classes
	// brasket-gap-road-f-0.6: 2 km at 9 %, advice for 9 classes
	// brasket-gap-road-f-5.8: 4 km at 7 %, advice for 9 classes
}

func check(err error) {
	if err != nil {
		log.Fatal(err)
	}
}
