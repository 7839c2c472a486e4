package survey

import (
	"context"
	"errors"
	"math/rand/v2"
	"reflect"
	"testing"

	"gradeline/catalog/ranking"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// keptHills is the network of a drawn country in a catalogue.
func keptHills(t testing.TB, seed uint64, class *vehicle.Class) *store.Catalog {
	t.Helper()
	features, turns, _, ground := drawnRoads(rand.New(rand.NewPCG(seed, 42)))
	return keptFrom(t, extractOf(t, features, turns), ground, class)
}

// The network of the kept parts answers as the one that is made of all roads.
func TestNetworkOfPartsIsThatOfTheRoads(t *testing.T) {
	ctx, class := context.Background(), testClass(t)
	hills := 0
	for seed := uint64(1); seed <= 8; seed++ {
		cat := keptHills(t, seed, &class)
		fast, err := OpenNetwork(ctx, cat, &class, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		all, err := networkOfRoads(ctx, cat, nil, &class, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(fast.figures.hills, all.figures.hills) || len(fast.roads) != len(all.roads) {
			t.Errorf("seed %d: hills %v and %v, %d and %d roads", seed, fast.figures.hills, all.figures.hills, len(fast.roads), len(all.roads))
		}
		hills += len(fast.figures.hills)
		for e, c := range fast.figures.edges {
			if d := all.figures.edges[e].timeS - c.timeS; d < 0 || d > 2*costUnitS {
				t.Errorf("seed %d, edge %d: %.4f s kept, %.4f s worked out: kept figures are rounded down", seed, e, c.timeS, all.figures.edges[e].timeS)
			}
		}
	}
	if hills == 0 {
		t.Error("no network has a hill: the test says nothing of them")
	}
	_, _, places, _ := drawnRoads(rand.New(rand.NewPCG(4, 42)))
	cat := keptHills(t, 4, &class)
	// A class that the survey did not know gets its figures from the roads.
	other := class
	other.ID, other.MassMaxKg = "another", class.MassMaxKg-1000
	for _, c := range []*vehicle.Class{&class, &other} {
		k, err := OpenNetwork(ctx, cat, c, 0, nil)
		if err != nil {
			t.Fatal(err)
		}
		q := TripQuery{Options: Options{Classes: []vehicle.Class{*c}}, Vehicle: network.Vehicle{MassKg: c.MassMaxKg}, Prefer: ranking.PreferTime}
		got, _, err := k.FindTrips(ctx, places, q)
		if err != nil || len(got.List) != 1 {
			t.Errorf("%s: %v, %v", c.ID, got, err)
		}
	}
}

// Parts that are cut off or of another network are a fault, never other roads.
func TestDamagedParts(t *testing.T) {
	ctx, class := context.Background(), testClass(t)
	cat := keptHills(t, 4, &class)
	_, parts, err := cat.NetworkParts(ctx, graphPart, classPart(&class, nil))
	if err != nil {
		t.Fatal(err)
	}
	graph, figures := parts[graphPart], parts[classPart(&class, nil)]
	if _, err := unpackNetwork(graph, figures); err != nil {
		t.Fatal(err)
	}
	for n := 0; n < len(figures); n += 7 {
		if _, err := unpackNetwork(graph, figures[:n]); !errors.Is(err, terrain.ErrRead) {
			t.Fatalf("%d of %d bytes of figures: %v", n, len(figures), err)
		}
	}
	for n := 0; n < len(graph); n += 61 {
		if _, err := unpackNetwork(graph[:n], figures); !errors.Is(err, terrain.ErrRead) {
			t.Fatalf("%d of %d bytes of the graph: %v", n, len(graph), err)
		}
	}
}

// FuzzNetworkParts: bytes that are no parts are a fault.
func FuzzNetworkParts(f *testing.F) {
	class := testClass(f)
	cat := keptHills(f, 4, &class)
	_, parts, err := cat.NetworkParts(context.Background(), graphPart, classPart(&class, nil))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(parts[graphPart], parts[classPart(&class, nil)])
	f.Fuzz(func(t *testing.T, graph, figures []byte) {
		k, err := unpackNetwork(graph, figures)
		if err != nil {
			return
		}
		for i := range k.figures.hills {
			for _, e := range k.figures.hills[i].edges {
				k.stations(k.graph, e)
			}
		}
	})
}

// A merge keeps the search graph, with the figures of the classes that all roads were surveyed with.
func TestAMergeKeepsTheSearchGraph(t *testing.T) {
	ctx, class := context.Background(), testClass(t)
	other := class
	other.ID = "another"
	dst, src := keptHills(t, 4, &class), keptHills(t, 5, &class)
	before, err := dst.Network(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Merge(ctx, dst, src, store.MergeOptions{By: "Ada"}, []vehicle.Class{class, other}); err != nil {
		t.Fatal(err)
	}
	after, err := dst.Network(ctx)
	if err != nil || len(after.Roads) <= len(before.Roads) {
		t.Fatalf("%d roads before, %d after: %v", len(before.Roads), len(after.Roads), err)
	}
	for _, c := range []struct {
		class   *vehicle.Class
		isNoted bool
	}{{&class, false}, {&other, true}} {
		k, err := OpenNetwork(ctx, dst, c.class, 0, nil)
		if err != nil || (k.Note != "") != c.isNoted || len(k.roads) != len(after.Roads) {
			t.Errorf("%s: note %q, %v", c.class.ID, k.Note, err)
		}
	}
}
