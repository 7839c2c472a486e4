package main

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// road is a straight line along the hill, some cells north of its middle; a road
// with several pieces is cut into equal ones, which the file holds in odd order.
type road struct {
	name, ref, route string
	north            float64 // cells
	pieces           int
}

// drawnNetwork is roads of many names, some of which ask for the same short name.
func drawnNetwork(n int) []road {
	list := []road{
		{name: "Main Street"}, {name: "Main Street"}, {name: "Main Street 2"}, {name: "Main Street"}, {name: "Main Street 2 2"},
		{name: "Hühnerberg"}, {name: "Huhnerberg"}, {ref: "US 6"}, {ref: "US 50"}, {},
		{route: "cut", name: "Cut Road", pieces: 3}, {route: "other", name: "Cut Road", pieces: 2}, {}, {ref: "US 6", name: "Loveland"},
	}
	for i := len(list); i < n; i++ {
		list = append(list, road{name: fmt.Sprintf("Road %c%d", 'A'+i%7, i)})
	}
	for i := range list {
		list[i].north = float64(i%17) - 8 + 0.3*float64(i/17) // no two on one line: these would be a network
		list[i].pieces = max(1, list[i].pieces)
	}
	return list
}

// writeNetwork writes the roads as a FeatureCollection.
func (h hill) writeNetwork(t *testing.T, file string, list []road) string {
	t.Helper()
	var features []string
	for _, r := range list {
		lat := hillLatDeg + r.north*cellDeg
		tags := map[string]string{}
		for k, v := range map[string]string{"name": r.name, "ref": r.ref, "route": r.route} {
			if v != "" {
				tags[k] = v
			}
		}
		tagText, err := json.Marshal(tags)
		if err != nil {
			t.Fatal(err)
		}
		at := func(k int) float64 { return hillLonDeg + h.lengthM/degreeM()*float64(k)/float64(r.pieces) }
		for k := range r.pieces {
			k = (k + 1) % r.pieces
			features = append(features, fmt.Sprintf(`{"type":"Feature","properties":%s,"geometry":{"type":"LineString","coordinates":[[%.7f,%.7f],[%.7f,%.7f]]}}`,
				tagText, at(k), lat, at(k+1), lat))
		}
	}
	path := h.path(file)
	text := `{"type":"FeatureCollection","features":[` + strings.Join(features, ",\n") + `]}`
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// contents is all that a catalogue says of descents and routes, by id, without the
// moments of runs.
type contents struct {
	Descents map[string]catalog.Entry
	Profiles map[string]*routes.Profile
	Routes   []store.RouteRecord
	Tangents map[string][]store.Tangent
}

func contentsOf(t *testing.T, path string) contents {
	t.Helper()
	ctx := context.Background()
	c, err := store.Open(ctx, path, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	out := contents{Descents: map[string]catalog.Entry{}, Profiles: map[string]*routes.Profile{}, Tangents: map[string][]store.Tangent{}}
	es, err := c.Descents(ctx, store.Filter{WithRetired: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range es {
		e.Provenance.At = time.Time{}
		out.Descents[e.Descent.ID] = e
		if out.Profiles[e.Descent.ID], err = c.Profile(ctx, e.Descent.ID); err != nil {
			t.Fatal(err)
		}
	}
	if out.Routes, err = c.Routes(ctx); err != nil {
		t.Fatal(err)
	}
	for i, r := range out.Routes {
		out.Routes[i].SurveyedAt = ""
		if out.Tangents[r.ID], err = c.Tangents(ctx, r.ID); err != nil {
			t.Fatal(err)
		}
	}
	return out
}

// same fails where two catalogues differ, naming the first differences.
func (a contents) same(t *testing.T, b contents) {
	t.Helper()
	for id, e := range a.Descents {
		o, ok := b.Descents[id]
		switch {
		case !ok:
			t.Errorf("%s is missing", id)
		case !reflect.DeepEqual(e, o):
			t.Errorf("%s differs:\n%+v\n%+v", id, e.Descent, o.Descent)
		case !sameText(a.Profiles[id], b.Profiles[id]):
			t.Errorf("%s: its profile differs", id)
		}
	}
	for id := range b.Descents {
		if _, ok := a.Descents[id]; !ok {
			t.Errorf("%s is too many", id)
		}
	}
	if !reflect.DeepEqual(a.Routes, b.Routes) || !reflect.DeepEqual(a.Tangents, b.Tangents) {
		t.Errorf("routes or tangents differ:\n%+v\n%+v", a.Routes, b.Routes)
	}
}

// sameText compares by value also what is not a number.
func sameText(a, b any) bool { return fmt.Sprintf("%+v", a) == fmt.Sprintf("%+v", b) }

// The parts of a network, merged, are what one run gives: descents, holds, profiles,
// routes, tangents, and every id, also where roads ask for the same short name.
func TestShardsMergeToTheWhole(t *testing.T) {
	h := makeHill(t, 6, nil)
	file := h.writeNetwork(t, "net.geojson", drawnNetwork(26))
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("whole.gpkg"), file).want(t, exitDone)
	whole := contentsOf(t, h.path("whole.gpkg"))
	if len(whole.Routes) != 26 || len(whole.Descents) != 26 {
		t.Fatalf("%d routes, %d descents", len(whole.Routes), len(whole.Descents))
	}
	const parts = 5
	perPart := map[int]int{}
	for i := parts; i >= 1; i-- { // the order of the merge does not matter
		r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path(fmt.Sprintf("part%d.gpkg", i)), "--shard", fmt.Sprintf("%d/%d", i, parts), "--json", file).want(t, exitDone)
		perPart[i] = len(parse(t, r)["routes"].([]any))
		if i < parts {
			m := parse(t, gradeline(t, "merge", h.path(fmt.Sprintf("part%d.gpkg", i)), "--catalog", h.path(fmt.Sprintf("part%d.gpkg", parts)), "--json").want(t, exitDone))
			if n := len(m["conflicts"].([]any)) + len(m["renamed"].(map[string]any)); n != 0 {
				t.Errorf("part %d: %d conflicts and renamed: %v %v", i, n, m["conflicts"], m["renamed"])
			}
		}
	}
	if sum, most := sumAndMost(perPart); sum != 26 || most > 20 {
		t.Errorf("routes per part: %v", perPart)
	}
	whole.same(t, contentsOf(t, h.path(fmt.Sprintf("part%d.gpkg", parts))))
}

// A road is in the same part wherever it stands in the file, with all its pieces.
func TestShardsDoNotDependOnTheOrder(t *testing.T) {
	h := makeHill(t, 6, nil)
	list := drawnNetwork(22)
	parts := func(name string, list []road) map[string]int {
		file := h.writeNetwork(t, name+".geojson", list)
		out := map[string]int{}
		for i := range 4 {
			r := parse(t, gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path(fmt.Sprintf("%s%d.gpkg", name, i)), "--shard", fmt.Sprintf("%d/4", i+1), "--json", file).want(t, exitDone))
			for _, x := range r["routes"].([]any) {
				id := x.(map[string]any)["route"].(string)
				if was, twice := out[id]; twice {
					t.Errorf("%s is in part %d and %d", id, was+1, i+1)
				}
				if !strings.Contains(id, "#") { // named by its place in the file
					out[id] = i
				}
			}
		}
		return out
	}
	forward := parts("f", list)
	back := make([]road, 0, len(list))
	for i := range list {
		back = append(back, list[len(list)-1-i])
	}
	if backward := parts("b", back); !reflect.DeepEqual(forward, backward) || len(forward) != 20 {
		t.Errorf("%d roads:\n%v\n%v", len(forward), forward, backward)
	}
}

func TestAnEmptyShardLeavesACatalogueToMerge(t *testing.T) {
	h := makeHill(t, 6, nil)
	empty := 0
	for i := range 3 {
		cat := h.path(fmt.Sprintf("p%d.gpkg", i))
		r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, "--shard", fmt.Sprintf("%d/3", i+1), "--json", h.road).want(t, exitDone)
		if len(parse(t, r)["routes"].([]any)) == 0 {
			empty++
		}
		contentsOf(t, cat)
	}
	if empty != 2 {
		t.Errorf("%d of 3 parts of one road are empty", empty)
	}
}

func TestShardIsReadStrictly(t *testing.T) {
	h := makeHill(t, 6, nil)
	for _, bad := range []string{"0/4", "5/4", "2", "a/b", "1/0", "-1/4", "2/4x", "1/1000000"} {
		gradeline(t, "survey", "--terrain", h.dem, "--shard", bad, h.road).want(t, exitUsage).says(t, "--shard", "2/8")
	}
	gradeline(t, "survey", "--terrain", h.dem, "--shard", "1/2", "-").want(t, exitUsage).says(t, "--shard", "twice")
	if left, _ := filepath.Glob(h.path("*.gpkg")); len(left) > 0 {
		t.Errorf("left %v", left)
	}
}

func sumAndMost(perPart map[int]int) (sum, most int) {
	for _, n := range perPart {
		sum += n
		most = max(most, n)
	}
	return sum, most
}
