package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A place's name gives what its coordinates give: those of the demo's own file of sites.
func TestPracticeNearAPlaceByName(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	b, err := os.ReadFile(filepath.Join(dir, "sites.geojson"))
	if err != nil {
		t.Fatal(err)
	}
	var sites struct {
		Features []struct {
			Properties struct{ Name string }
			Geometry   struct{ Coordinates [2]float64 }
		}
	}
	if err := json.Unmarshal(b, &sites); err != nil {
		t.Fatal(err)
	}
	near := func(place string, code int) result {
		return gradeline(t, "practice", "--catalog", cat, "--class", "us-5axle", "--margin", "1%", "--within", "4km", "--near", place, "--json").want(t, code)
	}
	rungs := 0
	for _, f := range sites.Features {
		at := f.Geometry.Coordinates
		point, name := near(fmt.Sprintf("%.9f,%.9f", at[0], at[1]), exitDone), near(f.Properties.Name, exitDone)
		if name.out != point.out {
			t.Errorf("near %q gives another ladder than near %v", f.Properties.Name, at)
		}
		rungs += len(parse(t, point)["ladder"].([]any))
	}
	if rungs == 0 {
		t.Error("no place has a practice grade near it: nothing was compared")
	}
	at := sites.Features[0].Geometry.Coordinates
	near(fmt.Sprintf("%.4f,%.4f", at[1], at[0]), exitUsage).says(t, fmt.Sprintf("longitude comes first: %.4f", at[0])[:len("longitude comes first: -40")])
	near("Veltrane sumit", exitUsage).says(t, "no place", "did you mean Veltrane summit?")
	if len(parse(t, near("VELTRANE PASS ROAD", exitDone))["ladder"].([]any)) == 0 {
		t.Error("no practice grade near the road's own crests")
	}
}

// The hill that leaves too little in reserve at the page's speed comes in a lower gear, and
// the plan has a sheet for each step in each form.
func TestPracticePlan(t *testing.T) {
	dir := demoDir(t)
	cat := filepath.Join(dir, "demo.gpkg")
	a := parse(t, gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "--days", "2", "--json").want(t, exitDone))
	ladder, slower := a["ladder"].([]any), 0
	for _, x := range ladder {
		r := x.(map[string]any)
		if margin := number(t, r, "margin_pct"); margin < 20 {
			t.Errorf("%v has %v %% in reserve", r["descent"], margin)
		}
		if r["page_gear_name"] == "" {
			continue
		}
		slower++
		// The catalogue's own hold is the page's, and it leaves less.
		shown := parse(t, gradeline(t, "show", "--catalog", cat, r["descent"].(string), "--class", "ca-5axle", "--json").want(t, exitDone))
		var h map[string]any
		for _, x := range shown["descent"].(map[string]any)["holds"].([]any) {
			if k := x.(map[string]any); k["class"] == "ca-5axle" {
				h = k
			}
		}
		if use := number(t, h, "retarder_use_pct"); use <= 80 || h["gear_name"] != r["page_gear_name"] || number(t, r, "speed_mps") >= number(t, h, "speed_mps") {
			t.Errorf("%v: the page has gear %v with %v %% in use, the step %v", r["descent"], h["gear_name"], use, r)
		}
	}
	if slower == 0 {
		t.Error("no step is slower than its page: nothing was compared")
	}
	days := a["days"].([]any)
	if len(days) != 2 || days[1].(map[string]any)["repeat"] == "" {
		t.Errorf("days %v", days)
	}
	for _, form := range []struct{ name, begins string }{{"plan.pdf", "%PDF-"}, {"plan.html", "<!DOCTYPE html>"}, {"plan.xlsx", "PK\x03\x04"}} {
		out := filepath.Join(t.TempDir(), form.name)
		gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "--days", "2", "-o", out).want(t, exitDone)
		b, err := os.ReadFile(out)
		if err != nil || !strings.HasPrefix(strings.ToLower(string(b[:min(40, len(b))])), strings.ToLower(form.begins)) {
			t.Errorf("%s begins %q, %v", form.name, b[:min(20, len(b))], err)
		}
		if form.name != "plan.html" {
			continue
		}
		for i := range ladder {
			if want := fmt.Sprintf("Step %d: ", i+1); strings.Count(string(b), want) != 1 {
				t.Errorf("the plan has no sheet %q", want)
			}
		}
		for _, want := range []string{"INVENTED", "DRY ROAD ONLY", "SLOWER THAN THE DRIVER", "Shown before this step", "km/h", "not a permission"} {
			if !strings.Contains(string(b), want) {
				t.Errorf("the plan does not say %q", want)
			}
		}
	}
	gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "-o", "plan.doc").want(t, exitUsage).says(t, ".pdf or .html or .xlsx")
	gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "--days", "-1").want(t, exitUsage).says(t, "1 to 100 days")
	gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "--traffic", "no-such-hill=3").want(t, exitFailed).says(t, "no-such-hill", "gradeline list")
	gradeline(t, "practice", "--catalog", cat, "--class", "ca-5axle", "--traffic", "veltrane-pass-road-f-4.7=many").want(t, exitUsage).says(t, "not a descent and its vehicles a day")
}

// Where no descent is near, the plan says so in each form, and nothing is left to panic on.
func TestPracticePlanOfNothing(t *testing.T) {
	dir := demoDir(t)
	args := []string{"practice", "--catalog", filepath.Join(dir, "demo.gpkg"), "--class", "us-5axle", "--near", "10,10", "--within", "1km", "--days", "2"}
	gradeline(t, args...).want(t, exitDone).prints(t, "no descent was considered")
	for _, name := range []string{"plan.pdf", "plan.html", "plan.xlsx"} {
		gradeline(t, append(args, "-o", filepath.Join(t.TempDir(), name))...).want(t, exitDone)
	}
}
