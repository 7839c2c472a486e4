package main

import (
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The fingerprint on a page says whether the page is current: yes as it was printed and
// as it is typed, no longer once the review was changed.
func TestSheetCheck(t *testing.T) {
	dir := t.TempDir()
	cat, page := filepath.Join(dir, "c.gpkg"), filepath.Join(dir, "page.html")
	b, err := os.ReadFile(filepath.Join(demoDir(t), "demo.gpkg"))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(cat, b, 0o600); err != nil {
		t.Fatal(err)
	}
	const id = "veltrane-pass-road-f-4.7"
	gradeline(t, "sheet", id, "--catalog", cat, "--class", "us-5axle", "--dispatcher", "Ada, 555 0100", "--note", "Chains from November.", "-o", page).want(t, exitDone)
	html, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`Page ([0-9A-Z]{4}-[0-9A-Z]{4}), survey of`).FindSubmatch(html)
	if found == nil {
		t.Fatal("the page bears no fingerprint")
	}
	// Nobody asked for units: the page reads in those of the class's country first.
	for _, want := range []string{"Ada, 555 0100", "Chains from November.", "mph</dd>", "printed 20"} {
		if !strings.Contains(string(html), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	mark := string(found[1])
	for _, typed := range []string{mark, strings.ToLower(strings.ReplaceAll(mark, "-", ""))} {
		if r := gradeline(t, "sheet", "--check", typed, "--catalog", cat).want(t, exitDone); !strings.Contains(r.out, "CURRENT") || !strings.Contains(r.out, id) || !strings.Contains(r.out, "us-5axle") {
			t.Errorf("%s: %s", typed, r.out)
		}
	}
	gradeline(t, "sheet", "--check", "rubbish", "--catalog", cat).want(t, exitUsage).says(t, "eight letters")
	gradeline(t, "review", id, "--catalog", cat, "--state", "approved", "--by", "R. Vane").want(t, exitDone)
	gradeline(t, "sheet", "--check", mark, "--catalog", cat).want(t, exitFailed).says(t, "NOT CURRENT", "print it again")
}

// Advice that was made with other figures of a truck than its class file has now is in
// question wherever it is given; with the class file that it was made with it is not.
func TestStaleTruck(t *testing.T) {
	dir := t.TempDir()
	cat, trucks := filepath.Join(demoDir(t), "demo.gpkg"), filepath.Join(dir, "trucks.toml")
	b, err := os.ReadFile("../../data/classes/default.toml")
	if err != nil {
		t.Fatal(err)
	}
	changed := regexp.MustCompile(`(?m)^rolling_radius_m = 0\.5\d*`).ReplaceAllString(string(b), "rolling_radius_m = 0.55")
	if changed == string(b) {
		t.Fatal("no figure was changed")
	}
	if err := os.WriteFile(trucks, []byte(changed), 0o600); err != nil {
		t.Fatal(err)
	}
	const id = "veltrane-pass-road-f-4.7"
	page := func(name string) string { return filepath.Join(dir, name) }
	for _, c := range [][]string{
		{"list", "--json"}, {"show", id}, {"list"}, {"review"},
		{"sheet", id, "--class", "us-5axle", "-o", page("page.html")},
		{"report", "-o", page("report.html")},
		{"overlay", "descents", "-o", page("descents.geojson")},
	} {
		said := func(more ...string) string {
			args := append(append(slices.Clone(c), "--catalog", cat), more...)
			file := ""
			if i := slices.Index(c, "-o"); i > 0 {
				file, args = c[i+1], append(args, "--force")
			}
			text := gradeline(t, args...).want(t, exitDone).out
			if file != "" {
				b, err := os.ReadFile(file)
				if err != nil {
					t.Fatal(err)
				}
				text = string(b)
			}
			return strings.Join(strings.Fields(text), " ")
		}
		const words = "made with other figures than"
		if text := said("--classes", trucks); !strings.Contains(text, words) {
			t.Errorf("%v does not say so: %.600s", c, text)
		}
		if text := said(); strings.Contains(text, words) {
			t.Errorf("%v says so of the classes that it was made with", c)
		}
	}
}

// A page that does not fit is told, and the others are printed.
func TestSheetsGoOn(t *testing.T) {
	dir := t.TempDir()
	long := strings.Repeat("A very long word to the driver. ", 400)
	r := gradeline(t, "sheet", "--all", "--catalog", filepath.Join(demoDir(t), "demo.gpkg"), "--class", "us-5axle", "--note", long, "-o", filepath.Join(dir, "pages")).want(t, exitGaps)
	if n := strings.Count(r.err, "does not fit"); n != 6 || !strings.Contains(r.err, "0 of 6 pages written") {
		t.Errorf("%d of six named: %s", n, r.err)
	}
}
