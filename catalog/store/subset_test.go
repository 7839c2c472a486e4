package store

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/gpkg"
	"gradeline/routes"
)

// twoRoads is a catalogue with every table filled for road "r", and a second road
// far away.
func twoRoads(t *testing.T) *Catalog {
	c, _ := fresh(t)
	fillEveryTable(t, c)
	far := survey("Heron Pass", 2)
	for i := range far.Entries {
		for k := range far.Entries[i].Line {
			far.Entries[i].Line[k].LonDeg += 50
		}
	}
	far.Tangents = []Tangent{{FromM: 0, ToM: 100, GradePct: -5, GradeErrPct: 0.2}}
	save(t, c, far, SaveOptions{})
	save(t, c, survey("Flat Road", 0), SaveOptions{})
	return c
}

// A part holds all that belongs to its descents, value for value, is a valid
// GeoPackage, and is itself a catalogue.
func TestSubset(t *testing.T) {
	c := twoRoads(t)
	for name, k := range map[string]struct {
		f            Filter
		descents     int
		routes       int
		hasProposals bool
	}{
		"a road":        {Filter{Route: "r"}, 2, 1, true},
		"a flat road":   {Filter{Route: "Flat Road"}, 0, 1, false},
		"a box":         {Filter{BBox: &Box{WestDeg: -62, SouthDeg: 39, EastDeg: -58, NorthDeg: 41}}, 2, 1, false},
		"a state":       {Filter{State: catalog.Approved}, 2, 1, true},
		"a class, one":  {Filter{Class: "heavy", Limit: 1}, 1, 1, false},
		"all":           {Filter{}, 4, 3, true},
		"nothing there": {Filter{MinLengthM: 1e9}, 0, 0, false},
	} {
		path := filepath.Join(t.TempDir(), "part.gpkg")
		n, err := c.Subset(ctx, path, k.f, SubsetOptions{By: "Ada", Words: name})
		if err != nil || n != k.descents {
			t.Errorf("%s: %d, %v", name, n, err)
			continue
		}
		mustBeValid(t, path, "taking out "+name)
		part := open(t, path)
		want, _ := c.Descents(ctx, k.f)
		got, err := part.Descents(ctx, Filter{})
		if err != nil || len(got) != len(want) || len(want) > 0 && !reflect.DeepEqual(got, want) {
			t.Errorf("%s: %v\n%+v\nwant %+v", name, err, got, want)
		}
		roads, err := part.Routes(ctx)
		if err != nil || len(roads) != k.routes {
			t.Errorf("%s: roads %+v, %v", name, roads, err)
		}
		for _, r := range roads {
			a, _ := c.Tangents(ctx, r.ID)
			if b, err := part.Tangents(ctx, r.ID); err != nil || !reflect.DeepEqual(a, b) {
				t.Errorf("%s: tangents of %s: %v, %v", name, r.ID, b, err)
			}
			a2, _ := c.Sites(ctx, SiteFilter{Route: r.ID})
			if b, err := part.Sites(ctx, SiteFilter{Route: r.ID}); err != nil || !reflect.DeepEqual(a2, b) {
				t.Errorf("%s: sites of %s: %v, %v", name, r.ID, b, err)
			}
		}
		for _, e := range want {
			a, errA := c.Profile(ctx, e.Descent.ID)
			b, errB := part.Profile(ctx, e.Descent.ID)
			if (errA == nil) != (errB == nil) {
				t.Errorf("%s: profile of %s: %v, %v", name, e.Descent.ID, errA, errB)
			}
			if errA == nil && errB == nil {
				pa, _ := packProfile(a)
				if pb, err := packProfile(b); err != nil || !bytes.Equal(pa, pb) {
					t.Errorf("%s: another profile of %s, %v", name, e.Descent.ID, err)
				}
			}
			ha, _ := c.History(ctx, e.Descent.ID)
			if hb, err := part.History(ctx, e.Descent.ID); err != nil || !reflect.DeepEqual(ha, hb) {
				t.Errorf("%s: history of %s: %+v, %v", name, e.Descent.ID, hb, err)
			}
		}
		if p, err := part.Proposals(ctx); err != nil || len(p) > 0 != k.hasProposals {
			t.Errorf("%s: proposals %+v, %v", name, p, err)
		}
		h, err := part.History(ctx, "")
		if err != nil || h[len(h)-1].What != "taken out" || h[len(h)-1].By != "Ada" {
			t.Errorf("%s: the history does not say where it comes from: %+v", name, h)
		}
		for _, x := range h {
			if x.What == "by hand" {
				t.Errorf("%s: %+v", name, x)
			}
		}
		if f, err := part.Doctor(ctx); err != nil || len(f) > 0 {
			t.Errorf("%s: doctor: %+v, %v", name, f, err)
		}
		// Merged back it brings nothing new and contradicts nothing.
		if r, err := Merge(ctx, c, part, MergeOptions{DryRun: true}); err != nil || len(r.Added)+len(r.Conflicts)+len(r.Routes)+len(r.Sites) != 0 || len(r.Same) != k.descents {
			t.Errorf("%s: merged back: %+v, %v", name, r, err)
		}
		// It goes on as a catalogue: surveyed again, accepted, reviewed.
		if len(want) > 0 {
			save(t, part, survey("Otter Grade", 1), SaveOptions{})
			if k.hasProposals {
				if err := part.Accept(ctx, "r-f-1.0", "Ada"); err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
			mustBeValid(t, path, "going on with "+name)
		}
	}
}

// Merged into an empty catalogue a part is what it was.
func TestSubsetMergesElsewhere(t *testing.T) {
	c := twoRoads(t)
	path := filepath.Join(t.TempDir(), "part.gpkg")
	if _, err := c.Subset(ctx, path, Filter{Route: "Heron Pass"}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	other, _ := fresh(t)
	if _, err := Merge(ctx, other, open(t, path), MergeOptions{By: "Bo"}); err != nil {
		t.Fatal(err)
	}
	want, _ := c.Descents(ctx, Filter{Route: "Heron Pass"})
	if got, err := other.Descents(ctx, Filter{}); err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("%v\n%+v\nwant %+v", err, got, want)
	}
}

// An existing file stays unless it may be replaced, nothing is left after a
// fault, and the same part is the same bytes.
func TestSubsetIsWholeOrNotThere(t *testing.T) {
	c := twoRoads(t)
	dir := t.TempDir()
	path := filepath.Join(dir, "part.gpkg")
	if err := os.WriteFile(path, []byte("mine"), 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Subset(ctx, path, Filter{}, SubsetOptions{}); !errors.Is(err, ErrWrite) {
		t.Errorf("an existing file: %v", err)
	}
	if b, _ := os.ReadFile(path); string(b) != "mine" {
		t.Errorf("it now holds %q", b)
	}
	if _, err := c.Subset(ctx, path, Filter{}, SubsetOptions{Replace: true}); err != nil {
		t.Error(err)
	}
	stop, cancel := contextWithCancel()
	cancel()
	if _, err := c.Subset(stop, filepath.Join(dir, "b.gpkg"), Filter{}, SubsetOptions{}); err == nil {
		t.Error("cancelled and done")
	}
	if _, err := c.Subset(ctx, filepath.Join(dir, "none", "b.gpkg"), Filter{}, SubsetOptions{}); !errors.Is(err, ErrWrite) {
		t.Errorf("no folder: %v", err)
	}
	if left, _ := os.ReadDir(dir); len(left) != 1 {
		t.Errorf("left: %v", left)
	}
	again := filepath.Join(dir, "again.gpkg")
	if _, err := c.Subset(ctx, again, Filter{}, SubsetOptions{}); err != nil {
		t.Fatal(err)
	}
	a, _ := os.ReadFile(path)
	b, _ := os.ReadFile(again)
	if !reflect.DeepEqual(a, b) {
		t.Error("the same part twice differs")
	}
	// The whole taken out can be read only, and its directions still work as a filter.
	way := routes.Forward
	ro, err := Open(ctx, again, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer ro.Close()
	if l, err := ro.Descents(ctx, Filter{Direction: &way}); err != nil || len(l) != 4 {
		t.Errorf("%d, %v", len(l), err)
	}
}

// Every table of the catalogue is copied, or is the catalogue's own row.
func TestSubsetForgetsNoTable(t *testing.T) {
	copied := map[string]bool{"catalogue": true}
	for _, p := range partSQL {
		copied[p.table] = true
	}
	for _, table := range gpkg.TableNames() {
		if !copied[table] {
			t.Errorf("table %s is left out", table)
		}
	}
}

// A journal that lies beside the name of a new file belongs to an older one, and would
// be rolled into it.
func TestNoNewFileBesideALeftJournal(t *testing.T) {
	path := filepath.Join(t.TempDir(), "new.gpkg")
	if err := os.WriteFile(path+"-journal", []byte("left"), 0o600); err != nil {
		t.Fatal(err)
	}
	_, err := Open(t.Context(), path, Options{Create: true})
	var f *Fault
	if !errors.As(err, &f) || f.File != path+"-journal" || f.Fix == "" {
		t.Fatalf("%v", err)
	}
	if _, err := os.Stat(path); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("a file was made: %v", err)
	}
}
