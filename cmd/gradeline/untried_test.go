package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A drive that the office forgets is gone from the list and from the file.
func TestForgottenDriveIsGone(t *testing.T) {
	cat := copyOfDemo(t)
	drive := filepath.Join(demoDir(t), "drive.gpx")
	gradeline(t, "drives", "import", drive, "--drive-heights", "barometer", "--label", "truck seven", "--by", "Ada", "--catalog", cat).want(t, exitDone)
	id := ""
	for _, d := range parse(t, gradeline(t, "drives", "list", "--catalog", cat, "--json").want(t, exitDone))["drives"].([]any) {
		if d := d.(map[string]any); d["label"] == "truck seven" {
			id = fmt.Sprintf("%.0f", number(t, d, "drive"))
		}
	}
	gradeline(t, "drives", "forget", id, "999", "--by", "Ada", "--catalog", cat).want(t, exitFailed).says(t, "999")
	gradeline(t, "drives", "list", "--catalog", cat).want(t, exitDone).prints(t, "truck seven") // all or none
	gradeline(t, "drives", "forget", id, "--by", "Ada", "--catalog", cat).want(t, exitDone)
	if r := gradeline(t, "drives", "list", "--catalog", cat).want(t, exitDone); strings.Contains(r.out, "truck seven") {
		t.Errorf("still listed: %s", r.out)
	}
	gradeline(t, "drives", "forget", id, "--by", "Ada", "--catalog", cat).want(t, exitDone).prints(t, "(0)") // the file is rewritten again
	if b, err := os.ReadFile(cat); err != nil || bytes.Contains(b, []byte("truck seven")) {
		t.Errorf("%v: the file still has the label", err)
	}
}

// serve users add reads the password from standard input, with or without a line end, and keeps no
// password as it was typed.
func TestUsersAreAdded(t *testing.T) {
	file := filepath.Join(t.TempDir(), "users")
	add := func(name, typed string) result {
		var out, errOut bytes.Buffer
		code := run(context.Background(), []string{"gradeline", "serve", "users", "add", name, "--users", file}, strings.NewReader(typed), &out, &errOut)
		return result{code, out.String(), errOut.String()}
	}
	add("ada", "correct horse battery\r\n").want(t, exitDone)
	add("ben", "staple of the office").want(t, exitDone)
	add("cy", "short\n").want(t, exitFailed).says(t, "a password of 5 characters")
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	for part, isThere := range map[string]bool{"ada": true, "ben": true, "cy": false, "battery": false, "staple": false} {
		if strings.Contains(string(b), part) != isThere {
			t.Errorf("%q in the file: %v", part, !isThere)
		}
	}
	gradeline(t, "serve", "users", "add", "ada").want(t, exitUsage).says(t, "--users FILE")
	gradeline(t, "serve", "users", "drop", "ada", "--users", file).want(t, exitUsage).says(t, "takes add")
}

// A tight curve and a storm from behind change the advice to the safe side; a charge needs a battery.
func TestOptionsOfHoldReachTheAdvice(t *testing.T) {
	hold := func(class string, more ...string) map[string]any {
		return parse(t, gradeline(t, append([]string{"hold", "--grade", "5%", "--length", "4km", "--class", class, "--json"}, more...)...).want(t, exitDone))["hold"].(map[string]any)
	}
	plain := hold("us-5axle")
	if curved := hold("us-5axle", "--radius", "60ft"); number(t, curved, "speed_mps") >= number(t, plain, "speed_mps") {
		t.Errorf("with a curve of 60 ft %v, without %v", curved["speed_mps"], plain["speed_mps"])
	}
	calm, stormy := hold("us-5axle", "--tailwind", "0km/h"), hold("us-5axle", "--tailwind", "20m/s")
	if number(t, stormy, "retarder_use_pct") <= number(t, calm, "retarder_use_pct") && number(t, stormy, "speed_mps") >= number(t, calm, "speed_mps") {
		t.Errorf("with a storm from behind %v %% at %v, in calm air %v %% at %v", stormy["retarder_use_pct"], stormy["speed_mps"], calm["retarder_use_pct"], calm["speed_mps"])
	}
	gradeline(t, "hold", "--grade", "5%", "--length", "4km", "--class", "us-5axle", "--charge", "50%").want(t, exitFailed).says(t, "no recuperation")
}

// That there is no catalogue is no fault, unless one was named.
func TestDoctorFindsNoCatalogueWhereNoneIsNeeded(t *testing.T) {
	t.Chdir(t.TempDir())
	t.Setenv("GRADELINE_CATALOG", "") // so that it is restored
	if err := os.Unsetenv("GRADELINE_CATALOG"); err != nil {
		t.Fatal(err)
	}
	gradeline(t, "doctor").want(t, exitDone).prints(t, "none at gradeline.gpkg; create one")
	gradeline(t, "doctor", "--catalog", "gradeline.gpkg").want(t, exitFailed).prints(t, "FAULT  catalogue")
}

// Signs as CSV, with a choice that an edition leaves open and posts farther from the road.
func TestSignsTakeChoicesAndOffsets(t *testing.T) {
	dir := demoDir(t)
	file := filepath.Join(dir, "posts.csv")
	plan := []string{"signs", "veltrane-pass-road-f-4.7", "--approach", "55mph", "--catalog", filepath.Join(dir, "demo.gpkg")}
	gradeline(t, append(plan, "-o", file)...).want(t, exitDone).says(t, "wrote "+file)
	near, err := os.ReadFile(file)
	if err != nil || bytes.Count(near, []byte("\n")) < 5 {
		t.Fatalf("%v: %s", err, near)
	}
	gradeline(t, append(plan, "--edge", "20m", "--offset", "9m", "-o", file, "--force")...).want(t, exitDone)
	far, err := os.ReadFile(file)
	if err != nil || bytes.Equal(near, far) {
		t.Errorf("%v: the posts stand where they stood", err)
	}
	gradeline(t, append(plan, "--choice", "between-rows=interpolate", "--json")...).want(t, exitDone).prints(t, `"interpolate"`)
	gradeline(t, append(plan, "--choice", "between-rows=guess")...).want(t, exitFailed).says(t, "guess")
	checked := parse(t, gradeline(t, "signs", "check", writeTemplate(t, dir), "--json").want(t, exitDone))
	if number(t, checked, "warrants") < 1 || number(t, checked, "sources") < 1 {
		t.Errorf("%v", checked)
	}
}

// writeTemplate is the file of the first rule set.
func writeTemplate(t *testing.T, dir string) string {
	t.Helper()
	file := filepath.Join(dir, "mine.toml")
	if err := os.WriteFile(file, []byte(gradeline(t, "signs", "template").want(t, exitDone).out), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

// The bar on a terminal: each state replaces the line, and nothing is left of it at the end.
func TestProgressOnATerminal(t *testing.T) {
	var b bytes.Buffer
	p := &progress{w: &b, what: "reading", on: true}
	p.step(3)
	p.share(5<<20, 0)
	p.share(50, 200)
	p.share(51, 200) // still 25 %
	p.line("run 1: working")
	p.end()
	if want := "\rreading: 3\rreading: 5 MB\rreading: 25 %\r\033[Krun 1: working\r\033[K"; b.String() != want {
		t.Errorf("%q, want %q", b.String(), want)
	}
	b.Reset()
	silent := &progress{w: &b, what: "reading"}
	silent.step(3)
	silent.share(50, 200)
	silent.end()
	if b.Len() > 0 {
		t.Errorf("not on a terminal: %q", b.String())
	}
}

// Completion offers routes for --route, and classes of the named file.
func TestCompletionReadsTheNamedFiles(t *testing.T) {
	dir := demoDir(t)
	gradeline(t, "candidates", "--", "list", "--catalog", filepath.Join(dir, "demo.gpkg"), "--route", "").want(t, exitDone).prints(t, "Veltrane")
	mine := filepath.Join(dir, "mine.toml")
	if err := os.WriteFile(mine, []byte(strings.ReplaceAll(gradeline(t, "classes", "template").want(t, exitDone).out, "my-truck", "truck-of-mine")), 0o644); err != nil {
		t.Fatal(err)
	}
	ids := gradeline(t, "candidates", "--", "hold", "--classes", mine, "--class", "").want(t, exitDone)
	if strings.Contains(ids.out, "us-5axle\n") || strings.TrimSpace(ids.out) == "" {
		t.Errorf("of the file: %q", ids.out)
	}
	gradeline(t, "candidates", "--", "list", "--state", "").want(t, exitDone).prints(t, "surveyed\n", "field-checked\n", "approved\n", "retired\n")
}

// The page of a way has the places of a catalogue that was named, and one that cannot be read is an error.
func TestTripPageTakesPlacesFromTheCatalogue(t *testing.T) {
	dir := demoDir(t)
	way := []string{"route", "--class", "us-5axle", "--to", "-40.0785,42.0369", "--from", "-39.9445,42.0269", "--terrain", filepath.Join(dir, "terrain.tif"), filepath.Join(dir, "routes.geojson")}
	page := filepath.Join(dir, "way.html")
	gradeline(t, append(way, "--page", page, "--catalog", filepath.Join(dir, "none.gpkg"))...).want(t, exitFailed)
	if _, err := os.Stat(page); err == nil {
		t.Error("a page without the catalogue that was named")
	}
	gradeline(t, append(way, "--page", page, "--catalog", filepath.Join(dir, "demo.gpkg"), "--hazmat", "--height", "4m")...)
	b, err := os.ReadFile(page)
	if err != nil || !bytes.Contains(b, []byte("INVENTED")) {
		t.Errorf("%v: the page of the demonstration is not marked", err)
	}
	gradeline(t, append(way, "--page", filepath.Join(dir, "way.txt"), "--catalog", filepath.Join(dir, "demo.gpkg"))...).want(t, exitUsage)
}
