package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// Where nothing may be typed the shells learn so, and offer no files; classes come from
// the file that the environment names.
func TestCompletionKnowsWhereNothingStands(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	for line, exit := range map[string]int{"show --catalog C some-id ": exitGaps, "debrief --catalog C some-id ": exitDone, "debrief --catalog C some-id f.gpx ": exitGaps, "sheet --catalog C --all ": exitGaps, "report -o ": exitDone} {
		args := strings.Split(strings.Replace(line, "C", cat, 1), " ")
		if r := gradeline(t, append([]string{"candidates", "--"}, args...)...).want(t, exit); r.out != "" {
			t.Errorf("%s: %q", line, r.out)
		}
	}
	t.Setenv("GRADELINE_CLASSES", filepath.Join(t.TempDir(), "none.toml"))
	if r := gradeline(t, "candidates", "--", "hold", "--class", ""); r.out != "" {
		t.Errorf("classes beside those of GRADELINE_CLASSES: %q", r.out)
	}
}
