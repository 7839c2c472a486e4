package page

import (
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/specimen"
	"gradeline/routes"
)

// An approved hill never has the word APPROVED alone above an answer that gives no way down, and a
// retired one says first that its page is withdrawn.
func TestApprovalIsNoPermission(t *testing.T) {
	for _, c := range []struct {
		class, band string
		solid       bool
	}{
		{"us-5axle", "APPROVED by R. Vane", true}, {"bc-btrain", "NOT HELD: approved as such by R. Vane", true}, {"none-such", "NO APPROVED ADVICE FOR THIS TRUCK", false},
	} {
		s := sampleSheet(c.class, catalog.US)
		s.Entry.Review = catalog.Review{State: catalog.Approved, By: "R. Vane"}
		if p := inWords(t, s); p.Band.Text != c.band || p.Band.Solid != c.solid {
			t.Errorf("%s: %+v", c.class, p.Band)
		}
		s.Entry.Review.State = catalog.Retired
		if p := inWords(t, s); p.Question != "RETIRED: the office has withdrawn this page. Do not drive by it." {
			t.Errorf("%s, retired: %q", c.class, p.Question)
		}
	}
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Review = catalog.Review{State: catalog.Approved, By: "R. Vane"}
	s.IsOfTheDay, s.Entry.Holds[0].Weather = true, &catalog.Weather{HottestC: 20}
	if p := inWords(t, s); p.Band.Text != "NOT APPROVED FOR THIS WEATHER" || p.Band.Solid {
		t.Errorf("for one day: %+v", p.Band)
	}
}

// A page that gives no way down has no brake check before the crest, and none of the conditions of
// advice that holds.
func TestNoConditionsWithoutAWayDown(t *testing.T) {
	const check = "No brake check area is on record"
	for class, want := range map[string]bool{"us-5axle": true, "bc-btrain": false, "none-such": false} {
		s := sampleSheet(class, catalog.US)
		s.Sites = nil
		p := inWords(t, s)
		if got := strings.Contains(allOf(&p), check); got != want {
			t.Errorf("%s: a check of the brakes: %v", class, got)
		}
		if got := strings.Contains(allOf(&p), "lock the gear in manual mode"); got != want {
			t.Errorf("%s: a word on gearboxes that shift by themselves: %v", class, got)
		}
	}
	s := sampleSheet("us-5axle", catalog.US)
	s.Entry.Descent.Flags = []string{routes.FlagUnreliable}
	s.Entry.Holds[0].Cautions = []string{"So slow that other traffic must be warned."}
	p := inWords(t, s)
	if p.Head != "UNKNOWN" || strings.Contains(allOf(&p), "So slow") || strings.Contains(allOf(&p), "Weather: ") {
		t.Errorf("an unreliable profile: %s", allOf(&p))
	}
}

// Friction that is needed never reads as if there were enough.
func TestFrictionWordsNeverReadAsEnough(t *testing.T) {
	for needed, want := range map[float64]string{0.4001: "needed 0.41, and", 0.4: "needed just over 0.40, and no more than 0.40", 0.45: "needed 0.45, and no more than 0.40"} {
		if got := frictionWords(needed, 0.4); !strings.Contains(got, want) {
			t.Errorf("%g: %s", needed, got)
		}
	}
}

// A change on the way stands out where a driver who has set what is above must set more.
func TestMoreRetardingStandsOut(t *testing.T) {
	h := specimen.Entry(routes.Forward).Holds[0]
	lever := func(stage int) []catalog.Lever { return []catalog.Lever{{Retarder: "r", Stage: stage, Stages: 4}} }
	at := func(gear, stage int, speed float64) *catalog.HoldStretch {
		return &catalog.HoldStretch{Gear: gear, Levers: lever(stage), SpeedMPS: speed}
	}
	for _, c := range []struct {
		prev, x *catalog.HoldStretch
		want    bool
	}{
		{at(h.Gear, 2, 10), at(h.Gear, 3, 10), true}, {at(h.Gear, 3, 10), at(h.Gear, 2, 10), false}, {at(h.Gear, 2, 10), at(h.Gear, 2, 9), true},
		{at(h.Gear, 2, 10), at(h.Gear, 2, 11), false}, {at(h.Gear, 2, 10), at(h.Gear+1, 3, 12), false}, {at(h.Gear+1, 2, 10), at(h.Gear, 2, 10), true},
	} {
		if got := asksMore(c.prev, c.x, &h); got != c.want {
			t.Errorf("%+v after %+v: %v", c.x, c.prev, got)
		}
	}
}
