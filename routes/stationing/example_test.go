package stationing_test

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// slope is ground that falls a metre for each thousandth of a degree to the north.
type slope struct{}

func (slope) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i, p := range points {
		out[i] = terrain.Sample{ElevationM: 1000 - 1000*(p.LatDeg-46), CellM: 10}
	}
	return nil
}
func (slope) Sources() []terrain.Raster { return nil }
func (slope) Warnings() []string        { return nil }

// Two features that meet become one route; its ground is read every five metres.
func Example() {
	one := routes.Feature{Line: orb.LineString{{11, 46}, {11, 46.01}}, Tags: map[string]string{"route": "B 7"}, Place: routes.Place{File: "roads.geojson", Feature: 1}}
	two := routes.Feature{Line: orb.LineString{{11, 46.02}, {11, 46.01}}, Tags: map[string]string{"route": "B 7"}, Place: routes.Place{File: "roads.geojson", Feature: 2}}
	list, skipped := stationing.Assemble([]routes.Feature{one, two})
	g, err := stationing.Sample(context.Background(), slope{}, &list[0], stationing.Options{})
	fmt.Printf("%s, %.1f m, %d stations, %d skipped, %v\n", list[0].ID, list[0].LengthM, g.Count(), len(skipped), err)
	// Output: B 7, 2223.0 m, 446 stations, 0 skipped, <nil>
}

func ExampleDistanceM() {
	fmt.Printf("%.3f m\n", stationing.DistanceM(orb.Point{0, 45.5}, orb.Point{0.01, 45.5}))
	// Output: 781.581 m
}
