package network

import (
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
)

// Each cause of a missing way is told from the others, at the leg that has it.
func TestWhyNoWayLeadsThroughThePlaces(t *testing.T) {
	a, b, c, d, far := orb.Point{10, 46}, orb.Point{10.01, 46}, orb.Point{10.02, 46}, orb.Point{10.01, 46.01}, orb.Point{10.5, 46}
	road := func(tags map[string]string, line ...orb.Point) routes.Feature {
		return routes.Feature{Line: line, Tags: tags}
	}
	against := map[string]string{"oneway": "-1"}
	for name, k := range map[string]struct {
		roads  []routes.Feature
		places []orb.Point
		want   Gap
	}{
		"same place":   {[]routes.Feature{road(nil, a, b)}, []orb.Point{a, b, b}, Gap{Leg: 1, IsSamePlace: true}},
		"no road":      {[]routes.Feature{road(nil, a, b), road(nil, far, orb.Point{10.51, 46})}, []orb.Point{a, far}, Gap{}},
		"one-way":      {[]routes.Feature{road(nil, a, b), road(against, b, c)}, []orb.Point{a, b, c}, Gap{Leg: 1, IsAgainst: true}},
		"turning back": {[]routes.Feature{road(nil, a, b), road(nil, b, c), road(nil, b, d)}, []orb.Point{a, d, c}, Gap{IsTurn: true}},
	} {
		g, _, err := NewGraph(k.roads, nil, k.places, nil)
		if err != nil {
			t.Fatal(name, err)
		}
		if got := g.GapBetween(); got != k.want {
			t.Errorf("%s: %+v, want %+v", name, got, k.want)
		}
	}
}

// A place at which the truck may use no road is on the nearest road that it may not use.
func TestAPlaceOnAClosedRoad(t *testing.T) {
	line := routes.Feature{Line: orb.LineString{{10, 46}, {10.01, 46}}, Tags: map[string]string{"hgv": "no"}}
	isUsable := func(f *routes.Feature) bool { return f.Tags["hgv"] != "no" }
	g, snaps, err := NewGraph([]routes.Feature{line}, nil, []orb.Point{{10.001, 46}, {10.009, 46.0001}}, isUsable)
	if err != nil || len(snaps) != 2 || snaps[1].DistanceM > 20 || g.Edges() == 0 {
		t.Errorf("%+v, %v", snaps, err)
	}
	if _, _, err := NewGraph([]routes.Feature{line}, nil, []orb.Point{{11, 46}}, isUsable); err == nil {
		t.Error("a place far from every road was put on one")
	}
}
