package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"gradeline/catalog/wording"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// What list writes piece by piece is one JSON object, indented as every answer is.
func TestListIsOneObject(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	for _, more := range [][]string{nil, {"--limit", "1"}, {"--at-least", "900mi"}} {
		r := gradeline(t, append([]string{"list", "--json", "--catalog", cat}, more...)...).want(t, exitDone)
		var again bytes.Buffer
		if err := json.Indent(&again, []byte(r.out), "", "  "); err != nil || again.String() != r.out {
			t.Errorf("%v: %v, or another layout", more, err)
		}
		a := parse(t, r)
		if a["descents"] == nil || a["gaps"] == nil || len(a["cautions"].([]any)) == 0 {
			t.Errorf("%v: %.200s", more, r.out)
		}
	}
}

// A part of the catalogue is a catalogue: list, show, review, doctor and merge
// open it, and an existing file needs --force.
func TestListWritesAPartAsACatalogue(t *testing.T) {
	dir := demoDir(t)
	cat, part := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "part.gpkg")
	road := []string{"--route", "Veltrane Pass Road"}
	gradeline(t, "list", "-o", part, "--catalog", cat).want(t, exitDone) // no filter: the whole
	gradeline(t, "list", "-o", part, "--catalog", cat).want(t, exitFailed).says(t, "exists already", "--force")
	gradeline(t, append([]string{"list", "-o", part, "--catalog", cat, "--force"}, road...)...).want(t, exitDone).says(t, "2 descents", "a separate catalogue")
	whole := gradeline(t, append([]string{"list", "--catalog", cat, "--json"}, road...)...).want(t, exitDone)
	if got := gradeline(t, "list", "--catalog", part, "--json").want(t, exitDone); got.out != whole.out {
		t.Error("the part lists something else than the road in the whole")
	}
	const id = "veltrane-pass-road-f-4.7"
	a := gradeline(t, "show", id, "--class", "us-5axle", "--json", "--catalog", cat).want(t, exitDone)
	if b := gradeline(t, "show", id, "--class", "us-5axle", "--json", "--catalog", part).want(t, exitDone); a.out != b.out {
		t.Error("show says something else of the part")
	}
	sites := parse(t, gradeline(t, "sites", "list", "--catalog", part, "--json").want(t, exitDone))["sites"].([]any)
	if len(sites) != 3 {
		t.Errorf("%d sites on the road", len(sites))
	}
	gradeline(t, "doctor", "--catalog", part).want(t, exitDone)
	gradeline(t, "review", id, "--state", "approved", "--by", "Ada", "--catalog", part).want(t, exitDone)
	if r := gradeline(t, "merge", part, "--catalog", cat, "--by", "Bo").want(t, exitDone); !strings.Contains(r.out, "1 review and 0 sites copied") {
		t.Errorf("merged back: %s", r.out)
	}
	if r := gradeline(t, "review", id, "--history", "--catalog", cat).want(t, exitDone); !strings.Contains(strings.Join(strings.Fields(r.out), " "), "from another catalogue: approved by Ada") {
		t.Errorf("history: %s", r.out)
	}
	before, _ := os.ReadFile(cat)
	gradeline(t, "list", "-o", cat, "--force", "--catalog", cat).want(t, exitUsage).says(t, "is read by this command")
	if after, _ := os.ReadFile(cat); !bytes.Equal(before, after) {
		t.Error("the catalogue was written over")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".part*")); len(left) > 0 {
		t.Errorf("left: %s", strings.Join(left, ", "))
	}
}

// On a terminal of 80 columns, made by script(1), no line of the list is wider; without a
// terminal the table keeps its own width.
func TestTheListFitsTheTerminal(t *testing.T) {
	demo, path := demoDir(t), programPath(t)
	for _, columns := range []int{60, 80, 100} {
		line := fmt.Sprintf(`script -qec "stty cols %d; gradeline list --catalog demo.gpkg" /dev/null`, columns)
		out, err := shell(t, "bash", path, demo, line)
		if err != nil {
			t.Fatalf("%v\n%s", err, out)
		}
		if !strings.Contains(out, "old-quendrel-road-f-0.5") || !strings.Contains(out, "NOT HELD") {
			t.Fatalf("%d columns:\n%s", columns, out)
		}
		for _, l := range strings.Split(out, "\n") {
			if n := wording.Columns(strings.TrimRight(l, "\r")); n > columns {
				t.Errorf("%d columns on a terminal of %d: %q", n, columns, l)
			}
		}
	}
}
