package network

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// streets is a drawn grid with gaps, one-ways and rules, and its corner nodes as places.
func streets(rng *rand.Rand, side int) ([]routes.Feature, []routes.Turn, []orb.Point) {
	node := func(i int) (int64, orb.Point) {
		x, y := float64(i%side)*150, float64(i/side)*170
		return int64(i + 1), at(x+20*math.Sin(float64(7*i)), y)
	}
	var list []routes.Feature
	street := func(a, b int) {
		if rng.IntN(6) == 0 {
			return
		}
		tags := map[string]string{"highway": "residential", "name": fmt.Sprint("Street ", rng.IntN(9))}
		if rng.IntN(5) == 0 {
			tags["oneway"] = []string{"yes", "-1"}[rng.IntN(2)]
		}
		ia, pa := node(a)
		ib, pb := node(b)
		f := routes.Feature{Tags: tags, WayID: fmt.Sprint(10 + len(list)), Place: routes.Place{File: "drawn", Feature: 10 + len(list), IsWay: true},
			Line: orb.LineString{pa, {(pa[0] + pb[0]) / 2, (pa[1]+pb[1])/2 + 1e-4}, pb}, NodeIDs: []int64{ia, int64(1000 + len(list)), ib}}
		if rng.IntN(10) == 0 {
			f.Structures = []routes.Structure{{Kind: routes.Tunnel, FromM: 1, ToM: 9.5, Flagged: true}}
		}
		list = append(list, f)
	}
	for i := range side * side {
		if i%side < side-1 {
			street(i, i+1)
		}
		if i/side < side-1 {
			street(i, i+side)
		}
	}
	var turns []routes.Turn
	for range 4 {
		a, b := &list[rng.IntN(len(list))], &list[rng.IntN(len(list))]
		turns = append(turns, routes.Turn{FromWays: []int64{int64(a.Place.Feature)}, ToWays: []int64{int64(b.Place.Feature)}, ViaNode: a.NodeIDs[2]})
	}
	_, from := node(0)
	_, by := node(side + 2)
	_, to := node(side*side - 1)
	return list, turns, []orb.Point{from, by, to}
}

// plainCost is the least cost of a way through the stops by relaxing all edges until
// nothing changes: no heap, no estimate, no state but edge, rule and stop.
func plainCost(g *Graph, costs []float64, turn func(from, to int32) float64) float64 {
	type key struct {
		edge, state int32
		leg         int
	}
	dist := map[key]float64{}
	isGone := func(e int32) bool { _, is := g.replaced[e]; return is }
	improve := func(k key, d float64) bool {
		k.state = g.bans.step(k.state, k.edge)
		if math.IsInf(g.bans.cost[k.state], 1) || math.IsInf(d, 1) {
			return false
		}
		for k.leg < len(g.stops)-1 && g.stops[k.leg+1] == g.edge(k.edge).To {
			k.leg++
		}
		old, ok := dist[k]
		if ok && old <= d {
			return false
		}
		dist[k] = d
		return true
	}
	for e := range int32(g.Edges()) {
		if g.edge(e).From == g.stops[0] && !isGone(e) {
			improve(key{edge: e}, costs[e])
		}
	}
	for isChanged := true; isChanged; {
		isChanged = false
		for k, d := range dist {
			for e := range int32(g.Edges()) {
				if !isGone(e) && g.edge(e).From == g.edge(k.edge).To && g.edge(k.edge).twin != e && improve(key{e, k.state, k.leg}, d+costs[e]+turn(k.edge, e)) {
					isChanged = true
				}
			}
		}
	}
	best := math.Inf(1)
	for k, d := range dist {
		if k.leg == len(g.stops)-1 {
			best = math.Min(best, d)
		}
	}
	return best
}

// The guided search finds what a plain one finds, with turn costs, turn rules and places
// between; and so does the graph that was packed and read again.
func TestGuidedSearch(t *testing.T) {
	found := 0
	for seed := uint64(1); seed <= 60; seed++ {
		rng := rand.New(rand.NewPCG(seed, 11))
		features, turns, places := streets(rng, 4)
		whole, _, err := NewGraph(features, turns, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, err := whole.AppendBinary(nil)
		if err != nil {
			t.Fatal(err)
		}
		kept, err := GraphFromBinary(b)
		if err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
		for name, g := range map[string]*Graph{"made": whole, "kept": kept} {
			g, _, err := g.WithPlaces(places, nil)
			if err != nil {
				t.Fatal(err)
			}
			costs := make([]float64, g.Edges())
			for i := range costs {
				costs[i] = g.edge(int32(i)).LengthM * (1 + float64((i*7919)%13)/10)
				if (i*31)%17 == 0 {
					costs[i] = math.Inf(1)
				}
			}
			turn := func(from, to int32) float64 { return float64((int(from)*131 + int(to)*17) % 90) }
			w, cost, ok, err := cheapestBy(g, costs, turn)
			if err != nil {
				t.Fatal(err)
			}
			want := plainCost(g, costs, turn)
			switch {
			case ok != !math.IsInf(want, 1):
				t.Errorf("seed %d, %s: found %v, a plain search costs %v", seed, name, ok, want)
			case ok && math.Abs(cost-want) > 1e-6:
				t.Errorf("seed %d, %s: %v costs %v, a plain search finds %v", seed, name, w.Edges, cost, want)
			case ok:
				found++
			}
		}
	}
	if found < 40 {
		t.Errorf("only %d searches found a way", found)
	}
}

// A graph comes back as it was, but for the numbers of its vertices in the road data.
func TestPackedGraph(t *testing.T) {
	for seed := uint64(1); seed <= 20; seed++ {
		features, turns, _ := streets(rand.New(rand.NewPCG(seed, 5)), 5)
		for i := range features {
			for k, p := range features[i].Line {
				features[i].Line[k] = orb.Point{math.Round(p[0]*placesInDeg) / placesInDeg, math.Round(p[1]*placesInDeg) / placesInDeg}
			}
		}
		features[0].Tags, features[1].WayID = nil, "a way of its own"
		g, _, err := NewGraph(features, turns, nil, nil)
		if err != nil {
			t.Fatal(err)
		}
		b, err := g.AppendBinary(nil)
		if err != nil {
			t.Fatal(err)
		}
		k, err := GraphFromBinary(b)
		if err != nil {
			t.Fatal(err)
		}
		for i := range g.features {
			g.features[i].NodeIDs = nil
		}
		if !reflect.DeepEqual(k.features, g.features) || !reflect.DeepEqual(k.points, g.points) || !reflect.DeepEqual(k.bans.list, g.bans.list) || !reflect.DeepEqual(k.spans, g.spans) {
			t.Fatalf("seed %d: the graph is another", seed)
		}
		for i := range g.edges {
			a, b := g.edges[i], k.edges[i]
			if math.Abs(a.LengthM-b.LengthM) > 1e-9 || math.Abs(a.firstM-b.firstM) > 1e-9 {
				t.Fatalf("seed %d, edge %d: %+v and %+v", seed, i, a, b)
			}
			a.LengthM, a.firstM = b.LengthM, b.firstM
			if a != b {
				t.Fatalf("seed %d, edge %d: %+v and %+v", seed, i, a, b)
			}
		}
		for n := range b {
			if _, err := GraphFromBinary(b[:n]); err == nil {
				t.Fatalf("seed %d: %d of %d bytes are a graph", seed, n, len(b))
			}
		}
	}
}

// Bytes that are no graph are a fault, never a panic or a graph that leads outside itself.
func FuzzGraphFromBinary(f *testing.F) {
	features, turns, _ := streets(rand.New(rand.NewPCG(3, 5)), 3)
	g, _, err := NewGraph(features, turns, nil, nil)
	if err != nil {
		f.Fatal(err)
	}
	b, err := g.AppendBinary(nil)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := GraphFromBinary(b)
		if err != nil || len(g.points) < 2 || len(g.edges) == 0 {
			return
		}
		costs := make([]float64, g.Edges())
		for i := range costs {
			costs[i] = g.edges[i].LengthM
		}
		g.stops = []int32{0, int32(len(g.points) - 1)}
		if _, err := g.Best(context.Background(), Query{EdgeCost: costs, MostSurveys: 1, Judge: func(context.Context, Way) (Verdict, error) { return Verdict{IsHeld: true, Cost: math.MaxFloat64}, nil }}); err != nil {
			t.Error(err)
		}
	})
}
