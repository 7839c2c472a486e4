package catalog_test

import (
	"errors"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

func TestReviewStatesAreReadByName(t *testing.T) {
	for _, s := range catalog.ReviewStates() {
		if got, err := catalog.ParseReviewState(string(s)); err != nil || got != s {
			t.Errorf("%s: %q, %v", s, got, err)
		}
	}
	for _, text := range []string{"", "Approved", "aproved", "retired "} {
		if got, err := catalog.ParseReviewState(text); !errors.Is(err, terrain.ErrInput) || got != "" {
			t.Errorf("%q: %q, %v", text, got, err)
		}
	}
}
