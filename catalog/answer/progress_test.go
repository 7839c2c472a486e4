package answer

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"gradeline/catalog/trainees"
	"gradeline/terrain"
)

// A request to forget nobody would otherwise look done.
func TestChangesOfTraineesNameThem(t *testing.T) {
	file := filepath.Join(t.TempDir(), "trainees.json")
	for name, q := range map[string]ProgressRequest{
		"forget nobody":        {File: file, Forget: true},
		"sign nobody off":      {File: file, Descent: "hill", SignOff: trainees.SignOff{Instructor: "I. Example"}},
		"sign off and removed": {File: file, Name: "T. Example", Forget: true, Descent: "hill"},
	} {
		if a, err := NewProgress(q); a != nil || !errors.Is(err, terrain.ErrInput) {
			t.Errorf("%s: %v, %v", name, a, err)
		}
	}
	if a, err := NewProgress(ProgressRequest{File: file, Name: "T. Example", Forget: true}); a != nil || !errors.Is(err, os.ErrNotExist) {
		t.Errorf("no file: %v, %v", a, err)
	}
}
