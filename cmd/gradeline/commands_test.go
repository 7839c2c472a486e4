package main

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
)

// demoDir gives each test that looks at the demo's results a copy of its own; the
// demo itself runs once.
func demoDir(t *testing.T) string {
	t.Helper()
	demoOnce.Do(func() { gradeline(t, "demo", "-o", demoMade, "--units", "us").want(t, exitDone) })
	dir := filepath.Join(t.TempDir(), "demo")
	if err := os.CopyFS(dir, os.DirFS(demoMade)); err != nil {
		t.Fatal(err)
	}
	return dir
}

var (
	demoOnce sync.Once
	demoMade string // set by TestMain, which also removes it
)

func parse(t *testing.T, r result) map[string]any {
	t.Helper()
	var a map[string]any
	if err := json.Unmarshal([]byte(r.out), &a); err != nil {
		t.Fatalf("not one JSON object: %v\n%.300s", err, r.out)
	}
	if a["schema"] != "gradeline/1" {
		t.Errorf("schema %v", a["schema"])
	}
	return a
}

// The demo's kinds of descent, by what was built: see the alignments in terrain/synth.
func TestDemoShowsEveryKindOfDescent(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	list := parse(t, gradeline(t, "list", "--catalog", cat, "--json").want(t, exitDone))
	ds := list["descents"].([]any)
	if len(ds) < 5 {
		t.Fatalf("%d descents", len(ds))
	}
	seen := map[string]bool{}
	routes := map[string]bool{}
	for _, x := range ds {
		d := x.(map[string]any)
		mean, length := number(t, d, "mean_downgrade_pct"), number(t, d, "length_m")
		routes[d["route"].(string)] = true
		switch {
		case mean < 5:
			seen["easy"] = true
		case length > 8000:
			seen["long and even"] = true
		case mean > 8 && length < 2500:
			seen["steep and short"] = true
		}
		if len(d["benches"].([]any)) > 0 {
			seen["bench"] = true
		}
		if number(t, d, "interpolated_m") > 200 {
			seen["over a bridge or through a tunnel"] = true
		}
		for _, h := range d["holds"].([]any) {
			if h.(map[string]any)["holds"] == false {
				seen["not held"] = true
			}
		}
		if d["provenance"].(map[string]any)["invented"] != true {
			t.Errorf("%v is not labelled invented", d["id"])
		}
	}
	for _, k := range []string{"easy", "long and even", "steep and short", "bench", "over a bridge or through a tunnel", "not held"} {
		if !seen[k] {
			t.Errorf("no descent of the kind %q", k)
		}
	}
	if len(routes) < 3 {
		t.Errorf("%d routes", len(routes))
	}
	for _, name := range []string{"demo.gpkg", "descents.geojson", "holds.geojson", "avoid.geojson", "profile.csv"} {
		if st, err := os.Stat(filepath.Join(dir, name)); err != nil || st.Size() < 500 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestCommandsOnTheDemo(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	id := parse(t, gradeline(t, "list", "--catalog", cat, "--json"))["descents"].([]any)[0].(map[string]any)["id"].(string)
	file := func(name string) string { return filepath.Join(dir, name) }

	for _, f := range []struct{ name, mark string }{{"page.html", "<html"}, {"page.pdf", "%PDF-"}} {
		gradeline(t, "sheet", id, "--catalog", cat, "--class", "us-5axle", "-o", file(f.name)).want(t, exitDone)
		b, err := os.ReadFile(file(f.name))
		if err != nil || !bytes.Contains(b[:min(len(b), 4096)], []byte(f.mark)) {
			t.Errorf("%s: %v", f.name, err)
		}
	}
	gradeline(t, "sheet", "--all", "--catalog", cat, "--class", "us-5axle", "-o", file("pages")).want(t, exitDone)
	if pages, err := filepath.Glob(filepath.Join(file("pages"), "*-us-5axle.pdf")); err != nil || len(pages) != 6 {
		t.Errorf("pages for %d of six descents: %v", len(pages), err)
	}
	// A page that is there already is named, and the others are written all the same.
	if err := os.Remove(filepath.Join(file("pages"), id+"-us-5axle.pdf")); err != nil {
		t.Fatal(err)
	}
	again := gradeline(t, "sheet", "--all", "--catalog", cat, "--class", "us-5axle", "-o", file("pages")).want(t, exitGaps)
	if n := strings.Count(again.err, "exists already"); n != 5 || !strings.Contains(again.err, "1 of 6 pages written") {
		t.Errorf("%d pages named: %s", n, again.err)
	}
	gradeline(t, "sheet", "--all", "--catalog", cat, "--class", "us-5axle", "-o", file("pages.pdf")).want(t, exitUsage).says(t, "folder")
	gradeline(t, "sheet", "--all", "--catalog", cat, "--class", "us-5axl", "-o", file("p2")).want(t, exitUsage).says(t, "did you mean us-5axle?")
	gradeline(t, "sheet", "--all", "--catalog", cat, "-o", file("p2")).want(t, exitUsage).says(t, "--class")
	// The demo's signs face one way; the other way's descents have nothing to say of them.
	if r := gradeline(t, "signs", "--catalog", cat, "--approach", "55mph", "--standing", file("standing.geojson")).want(t, exitDone); r.err != "" {
		t.Errorf("audit of every descent: %s", r.err)
	}

	gradeline(t, "sheet", id, "--catalog", cat, "--class", "us-5axle", "-o", file("page.pdf")).want(t, exitFailed).says(t, "page.pdf", "--force")

	gradeline(t, "show", id, "--catalog", cat, "--class", "us-5axle", "--holding-plot", file("hold.svg"), "--heat-plot", file("heat.png")).want(t, exitDone)
	for name, mark := range map[string]string{"hold.svg": "<svg", "heat.png": "\x89PNG"} {
		if b, err := os.ReadFile(file(name)); err != nil || !bytes.Contains(b[:min(len(b), 400)], []byte(mark)) {
			t.Errorf("%s: %v", name, err)
		}
	}
	gradeline(t, "show", id, "--catalog", cat, "--holding-plot", file("h.svg")).want(t, exitUsage).says(t, "--class")

	gradeline(t, "report", "--catalog", cat, "--terrain", file("terrain.tif"), "--signs", "--approach", "55mph", "-o", file("r.html")).want(t, exitDone)
	if b, err := os.ReadFile(file("r.html")); err != nil || !bytes.Contains(b, []byte("INVENTED")) || !bytes.Contains(b, []byte("Plan sheets of")) {
		t.Errorf("report: %v", err)
	}

	for name, mark := range map[string]string{"l.csv": "\uFEFF", "l.xlsx": "PK", "l.txt": "INVENTED"} {
		gradeline(t, "list", "--catalog", cat, "-o", file(name)).want(t, exitDone)
		if b, err := os.ReadFile(file(name)); err != nil || !bytes.HasPrefix(b, []byte(mark)) {
			t.Errorf("%s: %v", name, err)
		}
	}
	gradeline(t, "list", "--catalog", cat, "--class", "us-5axle", "-o", file("mail.txt")).want(t, exitDone)
	if b, err := os.ReadFile(file("mail.txt")); err != nil || !bytes.Contains(b, []byte("DRY ROAD ONLY: us-5axle gear")) || bytes.Contains(b, []byte("ca-btrain")) || bytes.Count(b, []byte("\n")) > 75 {
		t.Errorf("a mail about one class: %v\n%s", err, b)
	}
	gradeline(t, "list", "--catalog", cat, "-o", file("l.doc")).want(t, exitUsage).says(t, ".xlsx")

	if words := gradeline(t, "practice", "--catalog", cat, "--class", "us-5axle", "--margin", "5%").want(t, exitDone).out; !strings.Contains(words, "DRY ROAD ONLY: 10.0 km") {
		t.Errorf("practice does not say DRY ROAD ONLY:\n%s", words)
	}
	a := parse(t, gradeline(t, "practice", "--catalog", cat, "--class", "us-5axle", "--json").want(t, exitDone))
	ladder := a["ladder"].([]any)
	if len(ladder) < 2 {
		t.Fatalf("%d rungs", len(ladder))
	}
	last := 0.0
	for i, x := range ladder {
		r := x.(map[string]any)
		if s := number(t, r, "difficulty_score"); s < last {
			t.Errorf("rung %d is easier than the one below", i)
		} else {
			last = s
		}
	}

	a = parse(t, gradeline(t, "compare", "--catalog", cat, "--class", "ca-btrain-63t", "--terrain", file("terrain.tif"), file("routes.geojson"), "--json").want(t, exitDone))
	rs := a["routes"].([]any)
	if len(rs) != 3 || rs[0].(map[string]any)["holds"] != true || rs[2].(map[string]any)["holds"] != false {
		t.Errorf("compare: %v", rs)
	}
	stored := parse(t, gradeline(t, "compare", "--catalog", cat, "--class", "ca-btrain-63t", "Veltrane Pass Road", "Old Quendrel Road", "--json").want(t, exitDone))
	if got := first(t, stored, "routes")["route"]; got != "Veltrane Pass Road" {
		t.Errorf("compare from the catalogue recommends %v", got)
	}

	sch := parse(t, gradeline(t, "signs", "--catalog", cat, "veltrane-pass-road-f", "--approach", "55mph", "--strip", file("s.svg"), "--json").want(t, exitDone))
	if n := len(first(t, sch, "schedules")["signs"].([]any)); n < 3 {
		t.Errorf("%d signs", n)
	}
	if b, err := os.ReadFile(file("s.svg")); err != nil || !bytes.Contains(b, []byte("<svg")) {
		t.Errorf("strip plan: %v", err)
	}
	r := parse(t, gradeline(t, "ramps", "veltrane-pass-road-f", "--catalog", cat, "--rate", "11922m, pea gravel, 150m, 8%", "--rate", "11922m,asphalt,150m,-8%", "--json").want(t, exitDone))
	ratings := r["ratings"].([]any)
	if len(r["candidates"].([]any)) == 0 || len(ratings) != 2 {
		t.Fatalf("ramps: %d candidates, %d ratings", len(r["candidates"].([]any)), len(ratings))
	}
	// L = V²/(30(R+G)): a rising bed of pea gravel stops what a falling lane of asphalt speeds up.
	if up, down := ratings[0].(map[string]any), ratings[1].(map[string]any); number(t, up, "end_speed_mps") >= number(t, down, "end_speed_mps") || down["stops"] != false {
		t.Errorf("ratings %v", ratings)
	}
	rated := gradeline(t, "ramps", "veltrane-pass-road-f", "--catalog", cat, "--rate", "11922m, pea gravel, 150m, 8%", "--units", "us").want(t, exitDone)
	if strings.Contains(rated.out, "is not rated") {
		t.Errorf("a rated ramp is called not rated:\n%s", rated.out)
	}
	if got := gradeline(t, "ramps", "veltrane-pass-road-f", "--catalog", cat, "--units", "us").want(t, exitDone).out; !strings.Contains(got, "is not rated") || !strings.Contains(strings.Join(strings.Fields(got), " "), `--rate "39114ft, MATERIAL`) || strings.Contains(got, " km") {
		t.Errorf("the ramp on record is not called unrated, or metric on a US page:\n%s", got)
	}
	if rated.code == exitDone && (!strings.Contains(rated.out, "Ramps rated") || !strings.Contains(rated.out, "highest entry")) {
		t.Errorf("rated ramps:\n%s", rated.out)
	}
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "-o", file("posts.geojson")).want(t, exitDone)
	if b, err := os.ReadFile(file("posts.geojson")); err != nil || !bytes.Contains(b, []byte(`"designation":"W7-1a; W7-3aP`)) || !bytes.Contains(b, []byte(`FeatureCollection`)) {
		t.Errorf("posts: %v", err)
	}
	own := gradeline(t, "signs", "template", "--rules", "uk-2013").want(t, exitDone).out
	if err := os.WriteFile(file("own.toml"), []byte(own), 0o600); err != nil {
		t.Fatal(err)
	}
	if r := gradeline(t, "signs", "check", file("own.toml")).want(t, exitDone); !strings.Contains(r.out, "uk-2013") || !strings.Contains(r.out, "no fault") {
		t.Errorf("signs check: %s", r.out)
	}
	if err := os.WriteFile(file("own.toml"), []byte(strings.Replace(own, `grade_from = "10%"`, `grade_from = "10"`, 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	gradeline(t, "signs", "check", file("own.toml")).want(t, exitFailed).says(t, "line ", "grade_from", "add the unit")
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "--strip", file("s.png")).want(t, exitUsage).says(t, "--strip", ".pdf", ".svg")
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "--strip", file("s.dxf")).want(t, exitDone)
	if b, err := os.ReadFile(file("s.dxf")); err != nil || !strings.Contains(string(b), "POST-INSTALL") || !strings.HasSuffix(string(b), "EOF\n") {
		t.Errorf("strip drawing: %v", err)
	}
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "--strip", file("s.pdf"), "--milepost", "0=134.2", "--road", "freeway").want(t, exitDone)
	if b, err := os.ReadFile(file("s.pdf")); err != nil || !bytes.HasPrefix(b, []byte("%PDF")) {
		t.Errorf("plan sheets: %v", err)
	}
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "--road", "alley").want(t, exitFailed).says(t, "alley", "conventional")
	gradeline(t, "signs", "veltrane-pass-road-f", "--catalog", cat, "--approach", "55mph", "--milepost", "4mi").want(t, exitUsage).says(t, "--milepost", "STATION=VALUE")
	gradeline(t, "signs", "check").want(t, exitUsage).says(t, "TOML file")
	gradeline(t, "ramps", "veltrane-pass-road-f", "--catalog", cat, "--rate", "11922m, pea gravel, 150m").want(t, exitUsage).says(t, "--rate")
	gradeline(t, "ramps", "veltrane-pass-road-f", "--catalog", cat, "--rate", "11922m, custard, 150m, 8%").want(t, exitFailed).says(t, "custard", "pea gravel")

	for _, k := range [][]string{{"signs", "--approach", "55mph"}, {"sites"}, {"practice", "--class", "us-5axle"}, {"holds", "--class", "us-5axle"}} {
		gradeline(t, append([]string{"overlay", "--catalog", cat}, k...)...).want(t, exitDone)
	}
}

func TestReviewIsRecordedAndShown(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	id := first(t, parse(t, gradeline(t, "review", "--catalog", cat, "--json").want(t, exitDone)), "queue")["id"].(string)
	gradeline(t, "review", id, "--catalog", cat, "--state", "field-checked").want(t, exitUsage).says(t, "--by")
	gradeline(t, "review", id, "--catalog", cat, "--state", "fine", "--by", "A. Tester").want(t, exitFailed).says(t, "review state")
	gradeline(t, "review", id, "--catalog", cat, "--state", "field-checked", "--by", "A. Tester", "--measured", "6.2%", "--note", "dry, clear").want(t, exitDone)
	if r := gradeline(t, "show", id, "--catalog", cat).want(t, exitDone); !strings.Contains(r.out, "field-checked by A. Tester") {
		t.Errorf("show: %s", r.out)
	}
	h := parse(t, gradeline(t, "review", id, "--catalog", cat, "--history", "--json").want(t, exitDone))
	if n := len(h["history"].([]any)); n < 2 {
		t.Errorf("%d events", n)
	}
	// Another survey of the same data keeps the id and the review.
	gradeline(t, "survey", "--terrain", filepath.Join(dir, "terrain.tif"), "--catalog", cat, "--invented", "--units", "us", filepath.Join(dir, "routes.geojson")).want(t, exitDone)
	if r := gradeline(t, "show", id, "--catalog", cat).want(t, exitDone); !strings.Contains(r.out, "field-checked by A. Tester") {
		t.Errorf("after a second survey: %s", r.out)
	}
	gradeline(t, "doctor", "--catalog", cat).want(t, exitDone)
}

func TestHelpGoesToStandardOutput(t *testing.T) {
	for _, args := range [][]string{{"--help"}, {"survey", "--help"}, {}} {
		if r := gradeline(t, args...).want(t, exitDone); r.out == "" || r.err != "" {
			t.Errorf("%v: out %d bytes, err %q", args, len(r.out), r.err)
		}
	}
}
