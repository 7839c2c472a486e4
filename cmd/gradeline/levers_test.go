package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// readFile is a file's text.
func readFile(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// Every answer about a truck with two retarders names each lever with its stage, wherever it
// names a gear.
func TestEveryAnswerNamesEachLever(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	const class, hill = "eu-5axle", "old-quendrel-road-b-13.7"
	mail, plan, holds := filepath.Join(t.TempDir(), "mail.txt"), filepath.Join(t.TempDir(), "plan.html"), filepath.Join(t.TempDir(), "holds.geojson")
	gradeline(t, "list", "--catalog", cat, "--class", class, "-o", mail).want(t, exitDone)
	gradeline(t, "practice", "--catalog", cat, "--class", class, "-o", plan).want(t, exitDone)
	gradeline(t, "overlay", "holds", "--catalog", cat, "--class", class, "-o", holds).want(t, exitDone)
	for name, text := range map[string]string{
		"list":     gradeline(t, "list", "--catalog", cat, "--fleet", class).want(t, exitDone).out,
		"show":     gradeline(t, "show", "--catalog", cat, hill, "--class", class).want(t, exitDone).out,
		"practice": gradeline(t, "practice", "--catalog", cat, "--class", class).want(t, exitDone).out,
		"hold":     gradeline(t, "hold", "--grade", "6%", "--length", "5km", "--class", class).want(t, exitDone).out,
		"mail":     readFile(t, mail), "plan": readFile(t, plan), "overlay": readFile(t, holds),
	} {
		wants := []string{"compression brake at stage 2 of 2", "hydrodynamic retarder", "of 4"}
		if name == "list" { // its cells wrap among those of other columns
			wants = []string{"compression brake at stage", "hydrodynamic retarder", "of 4"}
		}
		said := strings.Join(strings.Fields(text), " ")
		for _, want := range wants {
			if !strings.Contains(said, want) {
				t.Errorf("%s does not say %q", name, want)
			}
		}
	}
}
