package main

import (
	"os"
	"path/filepath"
	"regexp"
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
	gradeline(t, "sheet", "--check", mark, "--catalog", cat).want(t, exitFailed).says(t, "NOT CURRENT", "print the page again")
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
