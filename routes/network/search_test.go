package network

import (
	"context"
	"math"
	"math/rand/v2"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/vector"
)

// bannedByLook reports whether any sequence stands in a way, looked for place by place.
func bannedByLook(way []int32, list [][]int32) bool {
	for i := range way {
		for _, seq := range list {
			if len(seq) > 0 && i+len(seq) <= len(way) && slices.Equal(way[i:i+len(seq)], seq) {
				return true
			}
		}
	}
	return false
}

// The automaton finds a banned sequence exactly where one stands.
func TestBansAreFound(t *testing.T) {
	found := 0
	for seed := uint64(1); seed <= 500; seed++ {
		rng := rand.New(rand.NewPCG(seed, 7))
		word := func(n int) []int32 {
			out := make([]int32, n)
			for i := range out {
				out[i] = int32(rng.IntN(3))
			}
			return out
		}
		var list [][]int32
		for range 1 + rng.IntN(6) {
			list = append(list, word(1+rng.IntN(4)))
		}
		b := newBans().with(list...)
		way := word(12)
		state, isBanned := int32(0), false
		for _, e := range way {
			state = b.step(state, e)
			isBanned = isBanned || math.IsInf(b.cost[state], 1)
		}
		if want := bannedByLook(way, list); isBanned != want {
			t.Fatalf("seed %d: %v in %v: %v", seed, list, way, isBanned)
		} else if want {
			found++
		}
	}
	if found < 100 || found > 490 {
		t.Errorf("%d of 500 ways were banned", found)
	}
}

// cheapestBy is the cheapest way by costs of edges and turns.
func cheapestBy(g *Graph, costs []float64, turn func(from, to int32) float64) (Way, float64, bool, error) {
	q := &Query{EdgeCost: costs, TurnCost: turn}
	u, err := newGuide(context.Background(), g, q)
	if err != nil {
		return Way{}, 0, false, err
	}
	return g.cheapest(context.Background(), q, u, newBans())
}

func TestTurnRules(t *testing.T) {
	node := func(n int64, x, y float64) (int64, orb.Point) { return n, at(x, y) }
	way := func(id int, ids []int64, pts ...orb.Point) routes.Feature {
		return routes.Feature{Line: pts, NodeIDs: ids, Tags: map[string]string{}, WayID: "w", Place: routes.Place{File: "drawn", Feature: id, IsWay: true}}
	}
	n1, p1 := node(1, 0, 0)
	n2, p2 := node(2, 1000, 0)
	n3, p3 := node(3, 2000, 0)
	n4, p4 := node(4, 1000, 1000)
	n5, p5 := node(5, 2000, 1000)
	list := []routes.Feature{way(10, []int64{n1, n2}, p1, p2), way(11, []int64{n2, n3}, p2, p3), way(12, []int64{n2, n4}, p2, p4), way(13, []int64{n4, n5}, p4, p5), way(14, []int64{n5, n3}, p5, p3)}
	lengthFor := func(turns ...routes.Turn) float64 {
		t.Helper()
		g, _, err := NewGraph(list, turns, []orb.Point{p1, p3}, nil)
		if err != nil {
			t.Fatal(err)
		}
		costs := make([]float64, g.Edges())
		for i := range costs {
			costs[i] = g.Edge(int32(i)).LengthM
		}
		w, _, ok, err := cheapestBy(g, costs, nil)
		if err != nil {
			t.Fatal(err)
		}
		if !ok {
			return math.Inf(1)
		}
		if !g.allows(w.Edges) {
			t.Errorf("the way %v breaks a rule", w.Edges)
		}
		return math.Round(w.LengthM / 1000)
	}
	straight := routes.Turn{FromWays: []int64{10}, ToWays: []int64{11}, ViaNode: 2}
	onlyLeft := routes.Turn{FromWays: []int64{10}, ToWays: []int64{12}, ViaNode: 2, IsOnly: true}
	round := routes.Turn{FromWays: []int64{12}, ToWays: []int64{14}, ViaWays: []int64{13}}
	for name, c := range map[string]struct {
		turns []routes.Turn
		km    float64
	}{
		"none":                      {nil, 2},
		"no straight on":            {[]routes.Turn{straight}, 4},
		"only left":                 {[]routes.Turn{onlyLeft}, 4},
		"neither way":               {[]routes.Turn{straight, round}, math.Inf(1)},
		"a rule of another node":    {[]routes.Turn{{FromWays: []int64{10}, ToWays: []int64{11}, ViaNode: 4}}, 2},
		"a rule of an unknown way":  {[]routes.Turn{{FromWays: []int64{99}, ToWays: []int64{11}, ViaNode: 2}}, 2},
		"a rule by ways not in use": {[]routes.Turn{round}, 2},
	} {
		if got := lengthFor(c.turns...); got != c.km {
			t.Errorf("%s: %v km, want %v", name, got, c.km)
		}
	}
}

// Rules of weight, height and access as signs state them.
func TestRefusals(t *testing.T) {
	v := Vehicle{MassKg: 40_000, HeightM: 4, LengthM: 18.75}
	for tags, want := range map[string]bool{
		"": false, "maxweight=40": false, "maxweight=39.9": true, "maxweight=44_t": false, "maxweight=40_st": true, "maxweight=90000_lbs": false,
		"maxweight=unknown": true, "maxweight=none": false, "maxheight=4.0": false, "maxheight=3.9": true, "maxheight=13'6\"": false, "maxheight=12'6\"": true,
		"maxheight=default": false, "maxlength=18": true, "maxlength=20": false, "maxaxleload=11": true, "hgv=no": true, "access=private": true,
		"access=no hgv=yes": false, "hgv=designated": false, "hgv=destination": true, "hazmat=no": false, "hgv:conditional=no_@_(weight>7.5)": true,
		"hgv:conditional=no_@_(weight>50)": false, "hgv:conditional=no_@_(22:00-06:00)": false, "motor_vehicle=forestry": true,
	} {
		var d drawn
		d.road(tags, 0, 0, 100, 0)
		if got := v.Refusal(&d.features[0], false); (got != "") != want {
			t.Errorf("%s: %q", tags, got)
		}
	}
	hazmat := v
	hazmat.IsHazmat = true
	var d drawn
	d.road("hazmat=no", 0, 0, 100, 0)
	if hazmat.Refusal(&d.features[0], false) == "" {
		t.Error("hazardous goods on hazmat=no")
	}
	d.road("hgv:forward=no", 0, 0, 100, 0)
	if v.Refusal(&d.features[1], false) == "" || v.Refusal(&d.features[1], true) != "" {
		t.Error("hgv:forward")
	}
}

// BenchmarkQuery searches Delaware's roads between its ends, nothing banned but turns.
func BenchmarkQuery(b *testing.B) {
	out, err := exec.Command("go", "list", "-m", "-f", "{{.Dir}}", "github.com/paulmach/osm").Output()
	if err != nil {
		b.Fatal(err)
	}
	file := filepath.Join(strings.TrimSpace(string(out)), "testdata", "delaware-latest.osm.pbf")
	features, turns, _, err := Collect(context.Background(), []string{file}, vector.Options{})
	if err != nil {
		b.Fatal(err)
	}
	g, _, err := NewGraph(features, turns, []orb.Point{{-75.6, 38.5}, {-75.55, 39.75}}, nil)
	if err != nil {
		b.Fatal(err)
	}
	costs := make([]float64, g.Edges())
	for i := range costs {
		costs[i] = g.Edge(int32(i)).LengthM
	}
	for b.Loop() {
		w, _, ok, err := cheapestBy(g, costs, nil)
		if err != nil || !ok || w.LengthM < 100_000 {
			b.Fatal(ok, err, w.LengthM)
		}
	}
	b.ReportMetric(float64(g.Edges()), "edges")
	b.ReportMetric(float64(g.Turns()), "turn-rules")
}
