package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The faults of a truck that was described from a data sheet are printed at once, each on its own
// line with its number and with what to write instead.
func TestClassesCheckPrintsEveryFault(t *testing.T) {
	text := gradeline(t, "classes", "template", "--units", "us").want(t, exitDone).out
	for _, change := range [][2]string{
		{`height = "13 ft 6 in"`, `height = "11 ft 60 in"`},
		{`tyre_revs_per_mi = 512`, `tyre_size = "11R22.5"`},
		{`chamber = "30"`, `chamber = "type 30"`},
	} {
		if strings.Count(text, change[0]) != 1 {
			t.Fatalf("the template has no single %s", change[0])
		}
		text = strings.Replace(text, change[0], change[1], 1)
	}
	file := filepath.Join(t.TempDir(), "dump.toml")
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	r := gradeline(t, "classes", "check", file).want(t, exitFailed)
	said := strings.Split(strings.TrimSpace(r.err), "\n")
	if len(said) != 3 || r.out != "" {
		t.Fatalf("%d lines: %s\nout: %s", len(said), r.err, r.out)
	}
	for i, want := range []struct{ written, fix string }{{"11 ft 60 in", "13 ft 6 in"}, {"11R22.5", "tyre_revs_per_mi"}, {"type 30", "30L"}} {
		at := strings.Index(text, want.written)
		line := strings.Count(text[:at], "\n") + 1
		result{err: said[i]}.says(t, "gradeline: ", fmt.Sprintf("line %d:", line), want.written, want.fix)
	}
}

// A file of trucks of the United States is checked in that country's units, unless told.
func TestClassesCheckSpeaksInTheFilesUnits(t *testing.T) {
	file := filepath.Join(t.TempDir(), "trucks.toml")
	if err := os.WriteFile(file, []byte(gradeline(t, "classes", "template").want(t, exitDone).out), 0o644); err != nil {
		t.Fatal(err)
	}
	gradeline(t, "classes", "check", file).want(t, exitDone).prints(t, "80,000 lb", " mph")
	gradeline(t, "classes", "check", file, "--units", "metric").want(t, exitDone).prints(t, "36.2 t", " km/h")
}
