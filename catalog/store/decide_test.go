package store

import (
	"errors"
	"reflect"
	"sync"
	"testing"

	"gradeline/catalog"
)

// Of two people who saw the same descent the second is told what the first did, and
// nothing of theirs is kept.
func TestDecisionOnWhatSomebodyElseChanged(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("r", 2)
	id := save(t, c, rs, SaveOptions{}).Added[0]
	seen, err := c.Version(ctx, id)
	if err != nil {
		t.Fatal(err)
	}
	decide := func(state catalog.ReviewState, by, note string) error {
		return c.Decide(ctx, id, Decision{Version: &seen, Review: catalog.Review{State: state, By: by, Note: note}})
	}
	if err := decide(catalog.FieldChecked, "Ada", "driven"); err != nil {
		t.Fatal(err)
	}
	var late *OvertakenError
	if err := decide(catalog.Approved, "Bo", "mine"); !errors.As(err, &late) {
		t.Fatalf("the second decision: %v", err)
	}
	if len(late.Since) != 1 || late.Since[0].By != "Ada" || late.Since[0].What != "review" || late.ID != id {
		t.Errorf("the second is told %+v", late.Since)
	}
	if e := descent(t, c, id); e.Review.State != catalog.FieldChecked || e.Review.Note != "driven" {
		t.Errorf("the review is now %+v", e.Review)
	}
	if h, err := c.History(ctx, id); err != nil || len(h) != 2 {
		t.Errorf("history %+v, %v", h, err)
	}
	seen = late.Version
	if err := decide(catalog.Approved, "Bo", "mine"); err != nil {
		t.Errorf("after looking again: %v", err)
	}
	if err := c.Decide(ctx, id, Decision{Review: catalog.Review{State: catalog.Surveyed, By: "Cy"}}); err != nil {
		t.Errorf("who asks for no version: %v", err)
	}
}

// A decision is one change: where its review is refused, the newer survey still waits.
func TestDecisionIsOneChange(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("r", 2)
	id := save(t, c, rs, SaveOptions{}).Added[0]
	if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
		t.Fatal(err)
	}
	moved := survey("r", 2)
	moved.Entries[0].Descent.StartM += 300
	moved.Entries[0].Descent.LengthM -= 300
	moved.Entries[0].Line = moved.Entries[0].Line[1:]
	save(t, c, moved, SaveOptions{})
	before, err := c.Proposals(ctx)
	if err != nil || len(before) != 1 {
		t.Fatalf("proposals %+v, %v", before, err)
	}
	if err := c.Decide(ctx, id, Decision{Accept: true, Review: catalog.Review{State: "lost", By: "Bo"}}); err == nil {
		t.Error("a state that is none is taken")
	}
	if err := c.Decide(ctx, id, Decision{Accept: true, Refuse: true, Review: catalog.Review{By: "Bo"}}); err == nil {
		t.Error("both at once are taken")
	}
	if err := c.Decide(ctx, id, Decision{Accept: true}); err == nil {
		t.Error("a decision without a name is taken")
	}
	if now, err := c.Proposals(ctx); err != nil || !reflect.DeepEqual(now, before) {
		t.Errorf("what waits is now %+v, %v", now, err)
	}
	if err := c.Decide(ctx, id, Decision{Accept: true, Review: catalog.Review{State: catalog.Approved, By: "Bo"}}); err != nil {
		t.Fatal(err)
	}
	e := descent(t, c, id)
	if e.Review.State != catalog.Approved || e.Review.By != "Bo" || e.Review.InQuestion != "" || e.Descent.StartM != moved.Entries[0].Descent.StartM {
		t.Errorf("accepted and approved: %+v, crest at %v", e.Review, e.Descent.StartM)
	}
}

// Many people at once: each change is made on what its maker saw, and none is lost.
func TestDecisionsOfManyAtOnce(t *testing.T) {
	c, _ := fresh(t)
	id := save(t, c, survey("r", 2), SaveOptions{}).Added[0]
	var wg sync.WaitGroup
	var mu sync.Mutex
	kept, late := 0, 0
	for range 4 {
		wg.Go(func() {
			for range 10 {
				seen, err := c.Version(ctx, id)
				if err == nil {
					err = c.Decide(ctx, id, Decision{Version: &seen, Review: catalog.Review{State: catalog.FieldChecked, By: "Ada"}})
				}
				var overtaken *OvertakenError
				mu.Lock()
				switch {
				case err == nil:
					kept++
				case errors.As(err, &overtaken):
					late++
				default:
					t.Error(err)
				}
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	h, err := c.History(ctx, id)
	if err != nil || len(h) != 1+kept || kept+late != 40 || kept == 0 {
		t.Errorf("%d kept and %d refused; the history has %d lines, %v", kept, late, len(h), err)
	}
}
