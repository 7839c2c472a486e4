package network

import (
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"

	"github.com/paulmach/orb"
)

// The index after places have cut lines lists the edges that an index of all of them lists, and the
// graph of all queries stays as it was.
func TestIndexOfCutLines(t *testing.T) {
	cut := 0
	for seed := uint64(1); seed <= 40; seed++ {
		rng := rand.New(rand.NewPCG(seed, 12))
		features, turns, places := streets(rng, 4)
		g, _, err := NewGraph(features, turns, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		before := *g
		before.edges, before.spans, before.points = slices.Clone(g.edges), slices.Clone(g.spans), slices.Clone(g.points)
		before.out = edgeIndex{slices.Clone(g.out.list), slices.Clone(g.out.of)}
		before.in = edgeIndex{slices.Clone(g.in.list), slices.Clone(g.in.of)}
		line := features[rng.IntN(len(features))].Line // two places on one line: it is cut twice
		middle := func(share float64) orb.Point {
			a, b := line[0], line[1]
			return orb.Point{a[0] + share*(b[0]-a[0]), a[1] + share*(b[1]-a[1])}
		}
		n, _, err := g.WithPlaces(append([]orb.Point{middle(0.3), middle(0.6)}, places...), nil)
		if err != nil {
			t.Fatal(err)
		}
		cut += len(n.cut.edges)
		for node := range int32(len(n.points)) {
			var out, in []int32
			for e := range int32(n.Edges()) {
				if _, isGone := n.replaced[e]; isGone {
					continue
				}
				if n.edge(e).From == node {
					out = append(out, e)
				}
				if n.edge(e).To == node {
					in = append(in, e)
				}
			}
			if !slices.Equal(n.leaving(node), out) || !slices.Equal(n.arriving(node), in) {
				t.Fatalf("seed %d, node %d: %v leave and %v arrive, want %v and %v", seed, node, n.leaving(node), n.arriving(node), out, in)
			}
		}
		for e := range int32(n.Edges()) {
			if twin := n.edge(e).twin; twin >= 0 && (n.edge(twin).twin != e || n.edge(twin).From != n.edge(e).To) {
				t.Fatalf("seed %d: edges %d and %d are not the two directions of one piece", seed, e, twin)
			}
		}
		if !reflect.DeepEqual(*g, before) {
			t.Fatalf("seed %d: the graph changed", seed)
		}
	}
	if cut < 100 {
		t.Errorf("places cut only %d edges", cut)
	}
}
