package survey

import (
	"context"
	"errors"
	"math/rand/v2"
	"testing"

	"gradeline/catalog/ranking"
	"gradeline/catalog/vehicle"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// A search for hundreds of alternatives would not end, and one for fewer than none says nothing.
func TestNumberOfAlternativesHasLimits(t *testing.T) {
	class := testClass(t)
	features, turns, places, ground := drawnRoads(rand.New(rand.NewPCG(1, 1805)))
	g, _, err := network.NewGraph(features, turns, places, nil)
	if err != nil {
		t.Fatal(err)
	}
	q := TripQuery{Options: Options{Classes: []vehicle.Class{class}}, Vehicle: VehicleOf(&class, 0), Prefer: ranking.PreferLength}
	for n, isRefused := range map[int]bool{-1: true, 0: false, 1: false, MostAlternatives + 1: true} {
		q.Alternatives = n
		if _, err := FindTrips(context.Background(), ground, g, q); errors.Is(err, terrain.ErrInput) != isRefused {
			t.Errorf("%d alternatives: %v", n, err)
		}
	}
}
