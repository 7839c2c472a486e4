package survey

import (
	"compress/gzip"
	"context"
	"io"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/store"
	"gradeline/catalog/vehicle"
)

// worded is a folder of a catalogue that an earlier version wrote, which had words for
// people in the ids of roads ("Veltrane (part 2)", "drawn feature 1", "Q 27 eastbound",
// "unnamed secondary road"), and of the roads that it was made from, over the demo's terrain.
const worded = "testdata/worded"

func olderCatalogue(t *testing.T, path string) {
	t.Helper()
	f, err := os.Open(filepath.Join(worded, "older.gpkg.gz"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	b, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b, 0o644); err != nil {
		t.Fatal(err)
	}
}

// routeOf maps the ids of a catalogue's descents to their roads.
func routeOf(t *testing.T, path string) map[string]string {
	t.Helper()
	cat, err := store.Open(context.Background(), path, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	es, err := cat.Descents(context.Background(), store.Filter{WithRetired: true})
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]string{}
	for i := range es {
		out[es[i].Descent.ID] = es[i].Descent.Route
	}
	return out
}

// surveyWorded surveys the same roads as the older catalogue.
func surveyWorded(t *testing.T, catalogue string) {
	t.Helper()
	f, err := os.Open(filepath.Join(worded, "trucks.toml"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	s := demoSetup(t)
	if s.Classes, _, err = vehicle.ParseClasses("trucks.toml", f); err != nil {
		t.Fatal(err)
	}
	s.Catalog, s.By = catalogue, "Bo"
	s.Roads = []string{filepath.Join(worded, "network.geojson")}
	runJob(t, s)
	s.Roads, s.AsDrawn = []string{filepath.Join(worded, "drawn.geojson")}, true
	runJob(t, s)
}

// A catalogue keeps the ids that it holds when its roads are surveyed again, and with
// them the reviews; a new one has no words for people in its ids.
func TestIDsThatACatalogueHoldsStay(t *testing.T) {
	older := filepath.Join(t.TempDir(), "older.gpkg")
	olderCatalogue(t, older)
	before := routeOf(t, older)
	want := map[string]string{"veltrane-part-2-f-0.0": "Veltrane (part 2)", "q-27-f-0.0": "Q 27 eastbound",
		"unnamed-secondary-road-f-0.6": "unnamed secondary road", "drawn-feature-1-b-2.1": "drawn feature 1"}
	if !maps.Equal(before, want) {
		t.Fatalf("the older catalogue holds %v", before)
	}
	surveyWorded(t, older)
	if after := routeOf(t, older); !maps.Equal(after, want) {
		t.Errorf("after a new survey it holds %v", after)
	}
	cat, err := store.Open(context.Background(), older, store.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	e, err := cat.Descent(context.Background(), "veltrane-part-2-f-0.0")
	if err != nil || e.Review.State != catalog.FieldChecked || e.Review.By != "Ada" {
		t.Errorf("%+v, %v", e.Review, err)
	}
	if rs, err := cat.Routes(context.Background()); err != nil || len(rs) != 5 {
		t.Errorf("%d roads, %v: each stands once", len(rs), err)
	}

	fresh := filepath.Join(t.TempDir(), "fresh.gpkg")
	surveyWorded(t, fresh)
	word := regexp.MustCompile(`part|feature|bound|unnamed|road\b| at |station`)
	got := routeOf(t, fresh)
	for id, route := range got {
		if word.MatchString(id) || word.MatchString(route) {
			t.Errorf("descent %q of %q", id, route)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d descents, %d in the older catalogue", len(got), len(want))
	}
}
