package store

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

func TestAMeasurementStaysAndIsCompared(t *testing.T) {
	c, _ := fresh(t)
	save(t, c, survey("Kestrel Road", 1), SaveOptions{})
	id := "kestrel-road-f-1.0"
	if _, err := c.Descent(ctx, id); err != nil {
		es, _ := c.Descents(ctx, Filter{})
		id = es[0].Descent.ID
	}
	mean := descent(t, c, id).Descent.MeanDowngradePct
	review := func(state catalog.ReviewState, measured *float64) catalog.Review {
		t.Helper()
		if err := c.Review(ctx, id, catalog.Review{State: state, By: "A", MeasuredGradePct: measured}); err != nil {
			t.Fatal(err)
		}
		return descent(t, c, id).Review
	}
	near, far := mean+0.3, mean+3
	if r := review(catalog.FieldChecked, &near); r.InQuestion != "" {
		t.Errorf("a reading within half a point is in question: %q", r.InQuestion)
	}
	if r := review(catalog.Approved, nil); r.MeasuredGradePct == nil || *r.MeasuredGradePct != near {
		t.Errorf("the approval lost the measurement: %+v", r)
	}
	if r := review(catalog.FieldChecked, &far); !strings.Contains(r.InQuestion, "measured") {
		t.Errorf("three points off and not in question: %+v", r)
	}
	if r := review(catalog.Approved, nil); !strings.Contains(r.InQuestion, "measured") {
		t.Errorf("an approval took the disagreement off: %+v", r)
	}
}
