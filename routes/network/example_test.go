package network_test

import (
	"context"
	"fmt"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
)

func line(n int, tags map[string]string, places ...orb.Point) routes.Feature {
	return routes.Feature{Line: places, Tags: tags, Place: routes.Place{File: "drawn", Feature: n}}
}

// Three lines of one ref, one of them drawn the other way, are one road.
func ExampleThrough() {
	a, b, c, d := orb.Point{8, 46}, orb.Point{8.01, 46}, orb.Point{8.02, 46.001}, orb.Point{8.03, 46.002}
	ref := map[string]string{"ref": "B 500"}
	roads, _, _ := network.Through([]routes.Feature{line(1, ref, a, b), line(2, ref, c, b), line(3, ref, c, d)})
	for _, r := range roads {
		fmt.Printf("%s, %.1f km\n", r.ID, r.LengthM/1000)
		for _, w := range r.Ways {
			fmt.Printf("  line %s, reversed %v\n", w.ID, w.Reversed)
		}
	}
	// Output:
	// B 500, 2.3 km
	//   line 1, reversed false
	//   line 2, reversed true
	//   line 3, reversed false
}

// The short way is not held, says the judge; the way round is.
func ExampleGraph_Best() {
	from, to, north := orb.Point{8, 46}, orb.Point{8.02, 46}, orb.Point{8.01, 46.02}
	none := map[string]string{}
	g, _, err := network.NewGraph([]routes.Feature{line(1, none, from, to), line(2, none, from, north), line(3, none, north, to)}, nil, []orb.Point{from, to}, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	costs := make([]float64, g.Edges())
	for i := range costs {
		costs[i] = g.Edge(int32(i)).LengthM
	}
	found, err := g.Best(context.Background(), network.Query{EdgeCost: costs, Judge: func(_ context.Context, w network.Way) (network.Verdict, error) {
		return network.Verdict{IsHeld: len(w.Edges) == 2, Cost: w.LengthM}, nil
	}})
	if err != nil || found.Best == nil {
		fmt.Println("no way", err)
		return
	}
	fmt.Printf("%.1f km instead of %.1f km, %d ways surveyed\n", found.Best.LengthM/1000, found.First.LengthM/1000, found.Surveyed)
	// Output:
	// 4.7 km instead of 1.5 km, 2 ways surveyed
}
