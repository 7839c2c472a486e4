package survey

import (
	"context"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/routes/stationing"
	"gradeline/terrain"
)

// humped is ground of 100 m at the first and last place of a sample, and 200 m between.
type humped struct{}

func (humped) Sample(_ context.Context, points []terrain.Point, out []terrain.Sample) error {
	for i := range points {
		out[i] = terrain.Sample{ElevationM: 200, Miss: terrain.Hit}
		if i == 0 || i == len(points)-1 {
			out[i].ElevationM = 100
		}
	}
	return nil
}
func (humped) Sources() []terrain.Raster { return nil }
func (humped) Warnings() []string        { return nil }

// By hand: 700 m of road before the junction and the road after it are a hill of 3 % or more, one
// point under the limit of 4 %, if the crest is 3 % of their length above the end, less 10 m.
func TestOnlyRoadsThatCannotFallAreNotSurveyed(t *testing.T) {
	road := stationing.Piece{Feature: routes.Feature{Line: orb.LineString{{8, 46}, {8.013, 46}}}}
	_, atM, isOnGround := placesAlong([]stationing.Piece{road}, 1e4)
	if !isOnGround {
		t.Fatal("a road without tags is on the ground")
	}
	b := &beyond{ctx: t.Context(), surface: humped{}}
	leastM := 0.03*(700+atM[len(atM)-1]) - 10
	for aboveM, want := range map[float64]bool{leastM - 0.1: false, leastM + 0.1: true} {
		if got := b.mayFall([]crest{{700, aboveM}}, &network.Onward{Pieces: []stationing.Piece{road}}); got != want {
			t.Errorf("a crest %.1f m above: %v, want %v", aboveM, got, want)
		}
	}
	road.Tags = map[string]string{"bridge": "yes"}
	if !b.mayFall([]crest{{700, 0}}, &network.Onward{Pieces: []stationing.Piece{road}}) {
		t.Error("heights of the terrain do not show a bridge: the road must be surveyed")
	}
}
