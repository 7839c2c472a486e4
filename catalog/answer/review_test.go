package answer_test

import (
	"path/filepath"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/specimen"
	"gradeline/catalog/store"
	"gradeline/routes"
)

// Who reviews a descent directly after another person is told what that person said.
func TestAReviewNamesTheOneItFollows(t *testing.T) {
	ctx := t.Context()
	cat, err := store.Open(ctx, filepath.Join(t.TempDir(), "hills.gpkg"), store.Options{Create: true})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	e := specimen.Entry(routes.Forward)
	s := cat.BeginSurvey(store.SaveOptions{By: "surveyor"})
	ch, err := s.Save(ctx, store.RouteSurvey{Route: store.RouteRecord{ID: e.Descent.Route, LengthM: 10_000}, Entries: []catalog.Entry{e}})
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	id := ch.Added[0]
	for _, c := range []struct {
		by, note, want string
		state          catalog.ReviewState
	}{
		{"Ada", "driven with a loaded truck", "", catalog.FieldChecked}, // the survey before is no decision
		{"Bo", "seems steeper", "Ada: review: field-checked; driven with a loaded truck. Both are in the history", catalog.FieldChecked},
		{"Bo", "corrected", "", catalog.FieldChecked},
		{"Cy", "", "Bo: review: field-checked; corrected.", catalog.Surveyed},
		{"Ada", "", "Cy: set back: from field-checked (Bo", catalog.FieldChecked},
	} {
		a, err := answer.Decide(ctx, cat, id, store.Decision{Review: catalog.Review{State: c.state, By: c.by, Note: c.note}})
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if err := a.WriteText(&b, catalog.Metric); err != nil {
			t.Fatal(err)
		}
		if got := b.String(); (a.Replaced == nil) != (c.want == "") || !strings.Contains(got, c.want) || strings.Contains(got, "Before this") != (c.want != "") {
			t.Errorf("%s: %s", c.by, got)
		}
	}
}
