package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A name of a megabyte, of a road and of a place: tables, lists, answers and messages cut it, no
// line that a person reads is longer than a screen can be, and every page refuses it.
func TestANameOfAMegabyte(t *testing.T) {
	h := makeHill(t, 6, nil)
	name := strings.Repeat("N", 1_000_000) // longer texts of a road file are refused
	road, err := os.ReadFile(h.road)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(h.road, []byte(strings.Replace(string(road), `"Test Road"`, `"`+name+`"`, 1)), 0o644); err != nil {
		t.Fatal(err)
	}
	places := h.path("places.geojson")
	site := fmt.Sprintf(`{"type":"Feature","properties":{"kind":"pullout","name":%q},"geometry":{"type":"Point","coordinates":[%.7f,%.7f]}}`, name, hillLonDeg+1e-2, hillLatDeg)
	if err := os.WriteFile(places, []byte(site), 0o644); err != nil {
		t.Fatal(err)
	}
	cat := h.path("c.gpkg")
	const hill = "nnnnnnnn"
	for _, args := range [][]string{
		{"survey", "--terrain", h.dem, h.road}, {"sites", "import", places, "--by", "Ada"}, {"sites", "list"}, {"list"}, {"show", hill}, {"practice", "--class", "us-5axle"},
		{"signs", hill, "--approach", "55mph"}, {"ramps", hill}, {"review"}, {"review", hill, "--history"}, {"doctor"},
		{"compare", "--class", "us-5axle", "--terrain", h.dem, h.road}, {"review", hill, "--state", "surveyed", "--by", name, "--note", name},
	} {
		r := gradeline(t, append(args, "--catalog", cat)...)
		if args[0] == "survey" && r.code != exitDone || r.code == exitUsage || len(r.out)+len(r.err) > 60_000 {
			t.Errorf("%v: exit code %d, %d bytes of answer and %d of messages: %.300s", args[:min(3, len(args))], r.code, len(r.out), len(r.err), r.err)
		}
		for _, line := range strings.Split(r.out, "\n") {
			if len(line) > 1200 {
				t.Errorf("%v: a line of %d bytes: %.100s", args[:min(3, len(args))], len(line), line)
			}
		}
	}
	for _, args := range [][]string{
		{"sheet", hill, "--class", "us-5axle"}, {"sheet", hill, "--class", "us-5axle", "-o", h.path("s.pdf")}, {"report"}, {"lesson", hill, "--class", "us-5axle", "-o", h.path("l.pdf")},
		{"signs", hill, "--approach", "55mph", "--strip", h.path("p.pdf")},
	} {
		gradeline(t, append(args, "--catalog", cat)...).want(t, exitFailed).says(t, "a page has room for 300")
	}
	if left, _ := filepath.Glob(h.path("*.pdf")); len(left) > 0 {
		t.Errorf("left %v", left)
	}
}
