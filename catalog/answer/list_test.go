package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/wording"
	"gradeline/routes"
)

// The terminal's list never gives a gear where the grade line is in doubt, and says DRY
// ROAD ONLY as loudly as NOT HELD.
func TestTheListSaysWhatADriverMayNotMiss(t *testing.T) {
	hold := func(change func(*catalog.Hold)) catalog.Entry {
		h := catalog.Hold{Class: "us-5axle", MassKg: 36000, Holds: true, Gear: 8, GearName: "6", SpeedMPS: 10, RetarderUsePct: 60}
		change(&h)
		return catalog.Entry{Holds: []catalog.Hold{h}}
	}
	for _, tc := range []struct {
		name     string
		entry    catalog.Entry
		want, no []string
	}{
		{"held", hold(func(*catalog.Hold) {}), []string{"gear 6"}, []string{catalog.DryRoadOnly, "unknown", "NOT HELD"}},
		{"dry road only", hold(func(h *catalog.Hold) { h.SurfacesOut = []string{"wet", "snow", "ice"} }), []string{catalog.DryRoadOnly, "gear 6"}, nil},
		{"not held", hold(func(h *catalog.Hold) { h.Holds = false }), []string{"NOT HELD"}, []string{"gear 6"}},
		{"unreliable", hold(func(*catalog.Hold) {}), []string{"unknown", "unreliable"}, []string{"gear 6"}},
		{"in question", hold(func(*catalog.Hold) {}), []string{"IN QUESTION, gear 6"}, nil},
		{"no class", catalog.Entry{}, []string{"no class was requested"}, []string{"gear"}},
	} {
		if tc.name == "unreliable" {
			tc.entry.Descent.Flags = []string{routes.FlagUnreliable}
		}
		if tc.name == "in question" {
			tc.entry.Review.InQuestion = "class figures changed"
			if words := wording.HoldWords(&tc.entry, "us-5axle", catalog.Metric); !strings.HasPrefix(words, "IN QUESTION, holds") {
				t.Errorf("in question: %q", words)
			}
		}
		row := fmt.Sprint(answer.ListTable([]catalog.Entry{tc.entry}, catalog.Metric).Rows[0])
		for _, w := range tc.want {
			if !strings.Contains(row, w) {
				t.Errorf("%s: %q does not say %q", tc.name, row, w)
			}
		}
		for _, w := range tc.no {
			if strings.Contains(row, w) {
				t.Errorf("%s: %q says %q", tc.name, row, w)
			}
		}
	}
}
