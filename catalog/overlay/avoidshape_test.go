package overlay

import (
	"errors"
	"testing"

	"gradeline/terrain"
)

func TestAvoidShapesAreReadByName(t *testing.T) {
	for text, want := range map[string]AvoidShape{"polygon": AvoidPolygons, "line": AvoidLines} {
		if got, err := ParseAvoidShape(text); err != nil || got != want {
			t.Errorf("%s: %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "Line", "circle"} {
		if _, err := ParseAvoidShape(text); !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%q: %v", text, err)
		}
	}
}
