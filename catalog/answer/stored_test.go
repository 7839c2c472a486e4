package answer

import (
	"bytes"
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/signs"
	"gradeline/catalog/specimen"
	"gradeline/catalog/spread"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// stored is a catalogue with the invented road of package specimen.
func stored(t *testing.T) (*store.Catalog, catalog.Entry) {
	t.Helper()
	ctx := context.Background()
	cat, err := store.Open(ctx, filepath.Join(t.TempDir(), "hills.gpkg"), store.Options{Create: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cat.Close() })
	road := store.RouteSurvey{Route: store.RouteRecord{ID: "Harrow Hill Road", Name: "Harrow Hill Road", LengthM: 10000, Reliable: true}, Entries: []catalog.Entry{specimen.Entry(routes.Forward)}, Profile: specimen.Profile()}
	if _, err := cat.SaveRoute(ctx, road, store.SaveOptions{By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	es, err := cat.Descents(ctx, store.Filter{})
	if err != nil || len(es) != 1 {
		t.Fatal(es, err)
	}
	return cat, es[0]
}

// Of the sites along the road only those that serve the direction are ramps for a runaway.
func TestRampsOfAStoredDescent(t *testing.T) {
	cat, e := stored(t)
	ctx := context.Background()
	in := signs.RunawayInput{FromMPS: 11}
	a, err := RampsOf(ctx, cat, e.Descent.ID, in, RampOptions{LeadM: 200})
	if err != nil {
		t.Fatal(err)
	}
	in.Descent, in.Profile = e.Descent, specimen.Profile()
	want, err := NewRamps(in, RampOptions{LeadM: 200})
	if err != nil || len(want.Runaway) == 0 || len(a.Runaway) != len(want.Runaway) || len(a.Candidates) != len(want.Candidates) || a.Descent != e.Descent.ID {
		t.Errorf("%v: %d speeds and %d places, not %d and %d", err, len(a.Runaway), len(a.Candidates), len(want.Runaway), len(want.Candidates))
	}
	if _, err := RampsOf(ctx, cat, "nowhere", in, RampOptions{}); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("nowhere: %v", err)
	}
}

func TestShownDescentHasItsGradeLine(t *testing.T) {
	cat, e := stored(t)
	a, view, err := ShowDescent(context.Background(), cat, &e, "")
	if err != nil {
		t.Fatal(err)
	}
	if len(a.Profile.StationM) < 10 || len(a.Profile.StationM) != len(view.StationM) || a.Drives != nil || a.Descent.Descent.ID != e.Descent.ID {
		t.Errorf("%d stations of %d, drives %v, %s", len(a.Profile.StationM), len(view.StationM), a.Drives, a.Descent.Descent.ID)
	}
}

// That there is no catalogue is a fault where one was named, and where one is to be repaired.
func TestDoctorWithoutACatalogue(t *testing.T) {
	ctx, path := context.Background(), filepath.Join(t.TempDir(), "none.gpkg")
	for _, c := range []struct {
		o       DoctorOptions
		isSound bool
	}{{DoctorOptions{IsOptional: true}, true}, {DoctorOptions{}, false}, {DoctorOptions{IsOptional: true, Repair: true}, false}} {
		a := &Doctor{}
		a.ExamineCatalog(ctx, path, c.o)
		if a.IsSound() != c.isSound || len(a.Checks) == 0 {
			t.Errorf("%+v: %+v", c.o, a.Checks)
		}
	}
	cat, _ := stored(t)
	path = cat.Path()
	cat.Close()
	a := NewDoctor("1.2", 7, nil)
	a.ExamineCatalog(ctx, path, DoctorOptions{})
	var b bytes.Buffer
	if err := a.WriteText(&b, catalog.Metric); err != nil || !a.IsSound() {
		t.Errorf("%v: %s", err, b.String())
	}
	for _, want := range []string{"1.2, go", "GDAL", "weight classes           7", path + ": no fault found"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %q in:\n%s", want, b.String())
		}
	}
	if NewDoctor("1.2", 0, catalog.ErrClass).IsSound() {
		t.Error("classes that cannot be read are sound")
	}
}

func TestSheetsGoIntoAFolderThatIsMade(t *testing.T) {
	cat, e := stored(t)
	dir := filepath.Join(t.TempDir(), "new", "pages")
	o := SheetOptions{Class: e.Holds[0].Class}
	gaps, err := WriteSheets(context.Background(), cat, []catalog.Entry{e}, dir, false, o)
	found, _ := filepath.Glob(filepath.Join(dir, "*.pdf"))
	if err != nil || len(gaps) > 0 || len(found) != 1 {
		t.Errorf("%v, %v, %v", found, gaps, err)
	}
	if _, err := WriteSheets(context.Background(), cat, []catalog.Entry{e}, filepath.Join(found[0], "below"), false, o); err == nil || !strings.Contains(err.Error(), "cannot be created") {
		t.Errorf("below a file: %v", err)
	}
}

func TestOnlyAFailedRunIsAFailure(t *testing.T) {
	for state, isFailed := range map[spread.State]bool{spread.Finished: false, spread.Failed: true} {
		a := &Spread{Progress: spread.Progress{State: state, Problem: "no room"}}
		if err := a.Failure(); (err != nil) != isFailed || isFailed && !strings.Contains(err.Error(), "no room") {
			t.Errorf("%s: %v", state, err)
		}
	}
	if got := QueuedLine(&spread.Queued{Run: 3, Routes: 20, LengthM: 12340, Jobs: 4}); !strings.HasPrefix(got, "run 3: 20 routes, 12.3 km, in 4 jobs; ") {
		t.Error(got)
	}
}

func TestRuleCheckCountsWhatIsInTheFile(t *testing.T) {
	a := NewRuleCheck("mine.toml", &signs.RuleSet{ID: "mine", Edition: "2026", Warrants: make([]signs.Warrant, 2), Signs: make([]signs.SignType, 3)})
	var b bytes.Buffer
	want := "mine (2026): 2 warrants, 3 signs, 0 sources, no fault. Use it with --rules mine.toml.\n"
	if err := a.WriteText(&b, catalog.US); err != nil || b.String() != want {
		t.Errorf("%v: %s", err, b.String())
	}
}
