package store

import (
	"context"
	"errors"
	"path/filepath"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// A decision that decides nothing, or that nobody made, is refused before the catalogue is looked at.
func TestDecisionsNeedWhatAndWho(t *testing.T) {
	ctx := context.Background()
	c, err := Open(ctx, filepath.Join(t.TempDir(), "hills.gpkg"), Options{Create: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	for name, d := range map[string]Decision{
		"nothing":        {Review: catalog.Review{By: "Ada", Note: "seen"}},
		"accept, nobody": {Accept: true},
		"refuse, nobody": {Refuse: true, Review: catalog.Review{Note: "seen"}},
		"both":           {Accept: true, Refuse: true, Review: catalog.Review{By: "Ada"}},
		"state, nobody":  {Review: catalog.Review{State: catalog.Approved}},
	} {
		if err := c.Decide(ctx, "nowhere", d); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if err := c.RemoveSite(ctx, "ramp", "", "torn down"); !errors.Is(err, terrain.ErrInput) {
		t.Errorf("a site removed by nobody: %v", err)
	}
	if err := c.Decide(ctx, "nowhere", Decision{Accept: true, Review: catalog.Review{By: "Ada"}}); !errors.Is(err, catalog.ErrNotFound) {
		t.Errorf("nowhere: %v", err)
	}
}
