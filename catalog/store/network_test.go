package store

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/paulmach/orb"

	"gradeline/routes"
	"gradeline/routes/network"
	"gradeline/terrain"
)

// drawnRoad is a road of a network of one way.
func drawnRoad(t testing.TB, id string, lonDeg float64) NetworkRoad {
	t.Helper()
	line := network.KeptLine{ToM: 1000, IsReversed: true, Feature: routes.Feature{Line: orb.LineString{{lonDeg, 40.1234567}, {lonDeg + .01, 40.2}}, WayID: "7", NodeIDs: []int64{1 << 40, 5},
		Tags: map[string]string{"highway": "primary", "name": "Gasse \"ß\""}, Place: routes.Place{File: "a.osm.pbf", Feature: 7, IsWay: true},
		Structures: []routes.Structure{{Kind: routes.Tunnel, FromM: 1, ToM: 2}}}}
	r := NetworkRoad{KeptRoad: network.KeptRoad{ID: id, LengthM: 1000, IsSurveyed: true, Lines: []network.KeptLine{line}},
		Masks: []Mask{{Class: "heavy", ClassSHA256: "x", MassKg: 40_000, Stretches: []MaskStretch{{Direction: routes.Backward, FromM: 900, ToM: 10, Held: true, HeaviestMassKg: 50_000, SurfacesOut: []string{"ice"}}}}}}
	p := plainProfile(1000)
	p.Doubtful = []routes.Doubt{{FromM: 3, ToM: 9, Why: "drawn"}}
	if err := r.Pack(p); err != nil {
		t.Fatal(err)
	}
	return r
}

func saveNetwork(t testing.TB, c *Catalog, roads ...NetworkRoad) {
	t.Helper()
	if len(roads) == 0 {
		roads = []NetworkRoad{drawnRoad(t, "CG-2", 1)}
	}
	s := c.BeginSurvey(SaveOptions{})
	source := NetworkSource{Files: "a.osm.pbf", Extracts: []routes.Extract{{File: "a.osm.pbf", AsOf: "2026-01-02T03:04:05Z"}}, Turns: []routes.Turn{{ID: 4, FromWays: []int64{7}, ToWays: []int64{8}, ViaNode: 5}}}
	for i := range roads {
		if err := s.SaveNetworkRoad(ctx, source, &roads[i]); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.SaveNetworkPart(ctx, "graph", []byte("what a search needs")); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// What is kept of a network comes back as it was; a second save replaces it.
func TestNetworkComesBack(t *testing.T) {
	c, path := fresh(t)
	want := []NetworkRoad{drawnRoad(t, "CG-2", 1), drawnRoad(t, "CS-240", 2)}
	saveNetwork(t, c, want...)
	saveNetwork(t, c, want...)
	n, err := c.Network(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(n.Roads, want) || len(n.Sources) != 1 || len(n.Sources[0].Turns) != 1 || n.Sources[0].Extracts[0].AsOf == "" {
		t.Errorf("%+v", n)
	}
	p, err := n.Roads[0].Profile()
	if err != nil || len(p.Doubtful) != 1 || p.LengthM != 1000 {
		t.Error(p, err)
	}
	mustBeValid(t, path, "saving a network")

	into, _ := fresh(t)
	saveNetwork(t, into, want[0])
	if _, err := Merge(ctx, into, c, MergeOptions{By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	if m, err := into.Network(ctx); err != nil || len(m.Roads) != 2 {
		t.Error("a merge brings the roads that are not there", err)
	}
}

// What a search needs is never older than the roads: each change of a road drops it.
func TestNetworkPartsGoWithTheRoads(t *testing.T) {
	c, path := fresh(t)
	saveNetwork(t, c, drawnRoad(t, "CG-2", 1), drawnRoad(t, "CS-240", 2))
	kept := func(c *Catalog) string {
		t.Helper()
		sources, parts, err := c.NetworkParts(ctx, "graph", "class x")
		if err != nil || len(sources) != 1 || len(parts) > 1 {
			t.Fatal(len(sources), len(parts), err)
		}
		return string(parts["graph"])
	}
	if got := kept(c); got != "what a search needs" {
		t.Errorf("%q", got)
	}
	copied := filepath.Join(t.TempDir(), "copy.gpkg")
	if err := c.CopyTo(ctx, copied); err != nil {
		t.Fatal(err)
	}
	s := c.BeginSurvey(SaveOptions{})
	road := drawnRoad(t, "CG-3", 3)
	if err := s.SaveNetworkRoad(ctx, NetworkSource{Files: "a.osm.pbf"}, &road); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if got := kept(c); got != "" {
		t.Errorf("a road was saved, but %q is still there", got)
	}
	mustBeValid(t, path, "dropping the parts")
	spoil(t, copied, "UPDATE network_parts SET content = x'00'")
	d, err := Open(ctx, copied, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer d.Close()
	if _, _, err := d.NetworkParts(ctx, "graph"); !errors.Is(err, terrain.ErrRead) {
		t.Errorf("a damaged part: %v", err)
	}
	if found, err := d.Doctor(ctx); err != nil || len(found) == 0 {
		t.Errorf("doctor finds %v, %v", found, err)
	}
	if list, err := d.NetworkRoads(ctx, []string{"CS-240", "CG-2"}); err != nil || len(list) != 2 || list[0].ID != "CS-240" {
		t.Errorf("%d roads, %v", len(list), err)
	}
	if _, err := d.NetworkRoads(ctx, []string{"nowhere"}); !errors.Is(err, terrain.ErrRead) {
		t.Errorf("a road that is not there: %v", err)
	}
}

// A flipped byte in the network's rows is a fault with the road's name, of the query and
// of doctor; never a network of fewer roads.
func TestDamagedNetworkIsRefused(t *testing.T) {
	c, path := fresh(t)
	saveNetwork(t, c, drawnRoad(t, "CG-2", 1), drawnRoad(t, "CS-240", 2))
	c.Close()
	for what, change := range map[string]string{
		"a length":    "UPDATE network_roads SET length_m = 1001 WHERE road = 'CG-2'",
		"a line":      "UPDATE network_roads SET lines = substr(lines, 1, 60) || x'00' || substr(lines, 62) WHERE road = 'CG-2'",
		"heights":     "UPDATE network_roads SET samples = substr(samples, 1, 60) || x'00' || substr(samples, 62) WHERE road = 'CG-2'",
		"no heights":  "UPDATE network_roads SET samples = NULL WHERE road = 'CG-2'",
		"a mask":      "UPDATE network_roads SET masks = '[]' WHERE road = 'CG-2'",
		"no sum":      "UPDATE network_roads SET seal = NULL WHERE road = 'CG-2'",
		"turn rules":  "UPDATE network_sources SET turns = '[]'",
		"another way": "UPDATE network_roads SET surveyed = 0 WHERE road = 'CG-2'",
	} {
		copied := filepath.Join(t.TempDir(), "hills.gpkg")
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(copied, b, 0o600); err != nil {
			t.Fatal(err)
		}
		spoil(t, copied, change)
		d, err := Open(ctx, copied, Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := d.Network(ctx); !errors.Is(err, terrain.ErrRead) {
			t.Errorf("%s: %v", what, err)
		}
		if found, err := d.Doctor(ctx); err != nil || len(found) == 0 {
			t.Errorf("%s: doctor finds %v, %v", what, found, err)
		}
		d.Close()
	}
}

// FuzzUnpackLines: bytes that are no lines are a fault.
func FuzzUnpackLines(f *testing.F) {
	r := drawnRoad(f, "x", 1)
	b, err := packLines(r.Lines)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b[6:])
	f.Fuzz(func(t *testing.T, b []byte) {
		if lines, err := unpackLines(sealedLines(b)); err == nil {
			if _, err := packLines(lines); err != nil {
				t.Error(err)
			}
		}
	})
}
