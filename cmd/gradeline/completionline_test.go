package main

import (
	"path/filepath"
	"strings"
	"testing"
)

// Quoting as POSIX has it (XCU 2.2), with the last quote open, as a line being typed is.
func TestWordsAreUnquoted(t *testing.T) {
	for typed, want := range map[string]string{`my\ file`: "my file", `"my f`: "my f", `'a\b'c`: `a\bc`, `"a\"b\c"`: `a"b\c`, `$(x)`: "$(x)", "": ""} {
		if got := unquotedWord(typed); got != want {
			t.Errorf("%s: %q, want %q", typed, got, want)
		}
	}
}

// Where nothing may stand the shells are told, lest they offer files; classes come from
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
