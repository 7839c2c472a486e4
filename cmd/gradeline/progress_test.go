package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A trainee's drives are kept in the office's file alone: the catalogue has no byte of the name,
// and after --forget no file of the folder has.
func TestProgressOfATrainee(t *testing.T) {
	dir := demoDir(t)
	cat, file := filepath.Join(dir, "demo.gpkg"), filepath.Join(dir, "trainees.json")
	drive := []string{"debrief", "veltrane-pass-road-f-4.7", filepath.Join(dir, "drive.gpx"), "--class", "us-5axle", "--catalog", cat, "--progress", file}
	gradeline(t, drive...).want(t, exitUsage).says(t, "--trainee")
	gradeline(t, append(drive, "--trainee", "Quintessa Vole")...).want(t, exitDone)
	gradeline(t, append(drive, "--trainee", "Quintessa  vole")...).want(t, exitFailed).says(t, "already")
	gradeline(t, "progress", file).want(t, exitDone).prints(t, "Quintessa Vole")
	gradeline(t, "progress", file, "--forget").want(t, exitUsage).says(t, "--trainee")
	gradeline(t, "progress", file, "--trainee", "Quintessa Vole", "--sign-off", "veltrane").want(t, exitUsage).says(t, "--instructor")
	gradeline(t, "progress", file, "--trainee", "Quintessa Vole", "--sign-off", "brasket", "--instructor", "I. Example").want(t, exitFailed).says(t, "brasket")
	gradeline(t, "progress", file, "--trainee", "Quintessa Vole", "--sign-off", "veltrane", "--instructor", "I. Example", "--on", "2026-05-05").want(t, exitDone).
		prints(t, "Signed off: Quintessa Vole down Veltrane Pass Road", "2026-05-05 by I. Example", "the last of which was NOT")
	for _, page := range []string{"page.pdf", "page.html"} {
		gradeline(t, "progress", file, "--trainee", "Quintessa Vole", "--units", "us", "-o", filepath.Join(dir, page)).want(t, exitDone)
	}
	page, err := os.ReadFile(filepath.Join(dir, "page.html"))
	if err != nil || !bytes.Contains(page, []byte("INVENTED")) || bytes.Contains(page, []byte("km/h")) {
		t.Errorf("page: %v", err)
	}
	for _, name := range []string{"page.pdf", "page.html"} {
		if err := os.Remove(filepath.Join(dir, name)); err != nil {
			t.Fatal(err)
		}
	}
	gradeline(t, "progress", file, "--trainee", "quintessa vole", "--forget").want(t, exitDone).prints(t, "erased")
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range list {
		if b, err := os.ReadFile(filepath.Join(dir, e.Name())); err != nil || strings.Contains(strings.ToLower(string(b)), "quintessa") {
			t.Errorf("%s: %v, has the name in it", e.Name(), err)
		}
	}
	gradeline(t, "progress", cat).want(t, exitFailed).says(t, "not a file of trainees")
	gradeline(t, "progress", filepath.Join(dir, "none.json")).want(t, exitFailed).says(t, "no such file")
}
