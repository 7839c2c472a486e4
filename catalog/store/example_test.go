package store_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// A survey of one road is saved, its descent reviewed, and read by the beginning of its id.
func Example() {
	dir, err := os.MkdirTemp("", "example")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	ctx := context.Background()
	c, err := store.Open(ctx, filepath.Join(dir, "hills.gpkg"), store.Options{Create: true, Tool: "example"})
	if err != nil {
		fmt.Println(err)
		return
	}
	defer c.Close()
	hill := catalog.Entry{
		Descent: routes.Descent{StartM: 1000, EndM: 5000, LengthM: 4000, DropM: 240, MeanDowngradePct: 6},
		Line:    []catalog.Vertex{{LonDeg: -110, LatDeg: 40, ElevationM: 1000, StationM: 1000}, {LonDeg: -109.953, LatDeg: 40, ElevationM: 760, StationM: 5000}},
	}
	survey := store.RouteSurvey{Route: store.RouteRecord{ID: "Kestrel Road (invented)", Name: "Kestrel Road"}, Entries: []catalog.Entry{hill}}
	changes, err := c.SaveRoute(ctx, survey, store.SaveOptions{By: "Ada"})
	if err != nil {
		fmt.Println(err)
		return
	}
	if err := c.Review(ctx, changes.Added[0], catalog.Review{State: catalog.FieldChecked, By: "Bo"}); err != nil {
		fmt.Println(err)
		return
	}
	e, err := c.Descent(ctx, "kestrel")
	fmt.Println(e.Descent.ID, e.Review.State, err)
	// Output: kestrel-road-f-1.0 field-checked <nil>
}
