package vector

import (
	"encoding/json"
	"os"
	"testing"
)

// Real routes with a third coordinate (testdata/heightgraph): the vertices are
// those that encoding/json reads, without the heights; a file with the heights
// taken out reads the same.
func TestRealRoutes(t *testing.T) {
	for file, vertices := range map[string]int{"waytypes": 1309, "closed": 484} {
		path := "testdata/heightgraph/" + file + ".geojson"
		got, skipped, err := readFile(path, Options{})
		if err != nil || len(skipped) != 0 {
			t.Fatal(err, skipped)
		}
		text, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		var want struct {
			Type     string `json:"type"`
			Features []struct {
				Type       string         `json:"type"`
				Properties map[string]any `json:"properties"`
				Geometry   struct {
					Type        string      `json:"type"`
					Coordinates [][]float64 `json:"coordinates"`
				} `json:"geometry"`
			} `json:"features"`
		}
		if err := json.Unmarshal(text, &want); err != nil {
			t.Fatal(err)
		}
		if len(got) != len(want.Features) {
			t.Fatalf("%s: %d lines, want %d", file, len(got), len(want.Features))
		}
		n := 0
		for i, f := range want.Features {
			c := f.Geometry.Coordinates
			n += len(c)
			if len(got[i].Line) != len(c) || len(got[i].Tags) != 1 {
				t.Fatalf("%s: line %d has %d vertices and tags %v", file, i, len(got[i].Line), got[i].Tags)
			}
			for j, p := range c {
				if len(p) != 3 || got[i].Line[j][0] != p[0] || got[i].Line[j][1] != p[1] {
					t.Fatalf("%s: line %d vertex %d is %v, want %v", file, i, j, got[i].Line[j], p)
				}
				f.Geometry.Coordinates[j] = p[:2]
			}
		}
		if n != vertices {
			t.Errorf("%s: %d vertices, want %d", file, n, vertices)
		}
		flat, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		again, _, err := readText(t, string(flat))
		if err != nil || len(again) != len(got) {
			t.Fatal(err, len(again))
		}
		for i := range again {
			if farthest(again[i].Line, got[i].Line) != 0 {
				t.Errorf("%s: line %d differs without heights", file, i)
			}
		}
	}
}
