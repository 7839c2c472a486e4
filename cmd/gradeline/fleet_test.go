package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The fleet that a survey or an office chooses is what list, show, report and the next
// survey go by, with no flag; --fleet all shows every class again.
func TestFleetIsKeptInTheCatalogue(t *testing.T) {
	dir, out := demoDir(t), t.TempDir()
	cat := filepath.Join(out, "fleet.gpkg")
	survey := []string{"survey", "--terrain", filepath.Join(dir, "terrain.tif"), "--vertical-unit", "m", filepath.Join(dir, "routes.geojson")}
	classes := func(args ...string) string {
		t.Helper()
		out := gradeline(t, append(args, "--catalog", cat)...).want(t, 0).out
		var found []string
		for _, id := range []string{"us-5axle", "us-dump-3axle", "eu-5axle", "ca-btrain-63t"} {
			if strings.Contains(out, `"class": "`+id+`"`) || !strings.HasPrefix(out, "{") && strings.Contains(out, id) {
				found = append(found, id)
			}
		}
		return strings.Join(found, " ")
	}
	list := []string{"list", "--json"}
	for _, step := range []struct {
		do   []string
		want string
	}{
		{append(survey, "--fleet", "us-5axle, us-dump-3axle"), "us-5axle us-dump-3axle"},
		{survey, "us-5axle us-dump-3axle"},
		{append(survey, "--fleet", "all"), "us-5axle us-dump-3axle eu-5axle ca-btrain-63t"},
		{[]string{"classes", "fleet", "eu-5axle", "--by", "Ada"}, "eu-5axle"},
	} {
		gradeline(t, append(step.do, "--catalog", cat)...).want(t, 0)
		if got := classes(list...); got != step.want {
			t.Errorf("after %v: %s, want %s", step.do, got, step.want)
		}
	}
	if got := classes("show", "veltrane-pass-road-f-4.7", "--json"); got != "eu-5axle" {
		t.Errorf("show: %s", got)
	}
	if got := classes("show", "veltrane-pass-road-f-4.7", "--json", "--class", "us-5axle"); !strings.Contains(got, "us-5axle") {
		t.Errorf("show --class: %s", got)
	}
	if got := classes("list", "--json", "--fleet", "all"); !strings.Contains(got, "ca-btrain-63t") {
		t.Errorf("list --fleet all: %s", got)
	}
	if got := classes("classes", "fleet"); got != "eu-5axle" {
		t.Errorf("classes fleet: %s", got)
	}
	page := filepath.Join(out, "fleet.html")
	if r := gradeline(t, "report", "-o", page, "--catalog", cat).want(t, 0); !strings.Contains(r.err, "only the classes of the fleet: eu-5axle") {
		t.Errorf("report: %s", r.err)
	}
	if b, err := os.ReadFile(page); err != nil || strings.Contains(string(b), "ca-btrain-63t") || !strings.Contains(string(b), "eu-5axle") {
		t.Errorf("report: %v", err)
	}
	for _, bad := range [][]string{{"list", "--fleet", "nobody"}, {"classes", "fleet", "nobody"}, append(survey, "--fleet", "nobody")} {
		if r := gradeline(t, append(bad, "--catalog", cat)...); r.code == 0 || !strings.Contains(r.err, `"nobody"`) {
			t.Errorf("%v: exit %d, %s", bad, r.code, r.err)
		}
	}
}
