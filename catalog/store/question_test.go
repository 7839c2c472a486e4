package store

import (
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
)

// Holds made with other class figures put their descent in question wherever it is read,
// and in the queue; in the file nothing changes.
func TestStaleHoldsAreInQuestion(t *testing.T) {
	c, _ := fresh(t)
	rs := survey("Kestrel Road", 2)
	rs.Entries[1].Holds[0].ClassFigures = "older"
	save(t, c, rs, SaveOptions{})
	stale := ""
	for id, e := range all(t, c) {
		if e.Holds[0].ClassFigures == "older" {
			stale = id
		}
		if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
			t.Fatal(err)
		}
	}
	before, err := c.Queue(ctx)
	if err != nil || len(before) != 0 {
		t.Fatalf("queue %+v, %v", before, err)
	}
	c.QuestionHolds(func(holds []catalog.Hold) string {
		for i := range holds {
			if holds[i].ClassFigures == "older" {
				return "other figures"
			}
		}
		return ""
	})
	for _, brief := range []bool{false, true} {
		list, err := c.Descents(ctx, Filter{Brief: brief})
		if err != nil || len(list) != 2 {
			t.Fatal(list, err)
		}
		for _, e := range list {
			if got, want := e.Review.InQuestion != "", e.Descent.ID == stale; got != want {
				t.Errorf("brief %v: %s in question: %q", brief, e.Descent.ID, e.Review.InQuestion)
			}
		}
	}
	if e := descent(t, c, stale); e.Review.InQuestion != "other figures" || e.Review.State != catalog.Approved {
		t.Errorf("%+v", e.Review)
	}
	queue, err := c.Queue(ctx)
	if err != nil || len(queue) != 1 || queue[0].ID != stale || !slices.Contains(queue[0].Reasons, QueueInQuestion) || queue[0].Words != "other figures" {
		t.Errorf("queue %+v, %v", queue, err)
	}
	c.QuestionHolds(nil)
	if e := descent(t, c, stale); e.Review.InQuestion != "" {
		t.Errorf("it was stored: %+v", e.Review)
	}
}

// A waiting survey that is harder to a class is given for its page; an easier one is not.
func TestTheHarderOfTwoSurveys(t *testing.T) {
	const id = "kestrel-road-f-1.0"
	for name, x := range map[string]struct {
		change func(e *catalog.Entry)
		harder bool
	}{
		"slower": {func(e *catalog.Entry) { e.Holds[1].SpeedMPS = 5 }, true},
		"faster": {func(e *catalog.Entry) { e.Holds[1].SpeedMPS = 12 }, false},
		"no more held": {func(e *catalog.Entry) {
			e.Holds[1] = catalog.Hold{Class: "heavy", MassKg: 46500, LimitedBy: catalog.LimitNothing}
		}, true},
		"steeper":   {func(e *catalog.Entry) { e.Descent.MeanDowngradePct += 2 }, true},
		"gentler":   {func(e *catalog.Entry) { e.Descent.MeanDowngradePct -= 2; e.Descent.DropM -= 1 }, false},
		"no advice": {func(e *catalog.Entry) { e.Holds = e.Holds[:1] }, true},
	} {
		t.Run(name, func(t *testing.T) {
			c, _ := fresh(t)
			rs := survey("Kestrel Road", 1)
			rs.Profile = plainProfile(50000)
			save(t, c, rs, SaveOptions{})
			if err := c.Review(ctx, id, catalog.Review{State: catalog.Approved, By: "Ada"}); err != nil {
				t.Fatal(err)
			}
			d := &rs.Entries[0].Descent
			d.StartM += 600 // beyond its bounds, so that it waits
			d.LengthM -= 600
			x.change(&rs.Entries[0])
			save(t, c, rs, SaveOptions{})
			e := descent(t, c, id)
			if !strings.Contains(e.Review.InQuestion, "accept or refuse") {
				t.Fatalf("nothing waits: %+v", e.Review)
			}
			newer, line, err := c.Harsher(ctx, &e, "heavy")
			if err != nil || (newer != nil) != x.harder {
				t.Fatalf("harder %v, want %v, %v", newer != nil, x.harder, err)
			}
			if newer != nil && (line == nil || newer.Descent.StartM != e.Descent.StartM+600 || newer.Review != e.Review || newer.Descent.ID != id) {
				t.Errorf("%+v, %v", newer.Descent, line)
			}
			if err := c.Refuse(ctx, id, "Bo", "measured by hand"); err != nil {
				t.Fatal(err)
			}
			if newer, _, err := c.Harsher(ctx, &e, "heavy"); newer != nil || err != nil {
				t.Errorf("it was refused and is still given: %v", err)
			}
		})
	}
}
