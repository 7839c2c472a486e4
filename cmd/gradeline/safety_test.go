package main

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A name that the catalogue has never heard of must not read as an all-clear.
func TestUnknownNamesAreRefused(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.survey(t, exitDone)
	cat := h.path("c.gpkg")
	for _, args := range [][]string{
		{"list", "--class", "zzz"}, {"list", "--not-held-by", "us-5axl"}, {"list", "--route", "Tset Road"},
		{"overlay", "avoid", "--class", "zzz"}, {"overlay", "avoid", "--class", "us-5axle", "--route", "zzz"},
		{"signs", "--class", "zzz", "--approach", "55mph"}, {"report", "--not-held-by", "zzz"}, {"practice", "--class", "zzz"},
	} {
		if r := gradeline(t, append(args, "--catalog", cat)...); r.code != exitUsage || r.out != "" {
			t.Errorf("%v: exit code %d, %d bytes, %s", args, r.code, len(r.out), r.err)
		}
	}
	gradeline(t, "list", "--not-held-by", "us-5axl", "--catalog", cat).want(t, exitUsage).says(t, "did you mean us-5axle")
}

func TestASingleFlagGivenTwiceIsRefused(t *testing.T) {
	gradeline(t, "hold", "--grade", "6%", "--length", "6mi", "--class", "us-5axle", "--grade", "12%").want(t, exitUsage).says(t, "--grade", "twice")
	gradeline(t, "list", "--limit", "-5").want(t, exitUsage).says(t, "--limit")
}

// --force is for earlier outputs, never for the catalogue or an input.
func TestForceDoesNotDestroyWhatACommandReads(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.survey(t, exitDone)
	cat := h.path("c.gpkg")
	for _, c := range []struct {
		file string
		args []string
	}{
		{cat, []string{"survey", "--terrain", h.dem, "--catalog", cat, "--profile", cat, "--force", h.road}},
		{h.road, []string{"survey", "--terrain", h.dem, "--catalog", cat, "--profile", h.road, "--force", h.road}},
		{h.dem, []string{"survey", "--terrain", h.dem, "--catalog", cat, "--profile", h.dem, "--force", h.road}},
		{cat, []string{"overlay", "descents", "--catalog", cat, "-o", cat, "--force"}},
	} {
		before, err := os.ReadFile(c.file)
		if err != nil {
			t.Fatal(err)
		}
		gradeline(t, c.args...).want(t, exitUsage).says(t, filepath.Base(c.file))
		if after, err := os.ReadFile(c.file); err != nil || !bytes.Equal(before, after) {
			t.Errorf("%v changed %s", c.args, c.file)
		}
	}
}

func TestAFailedSurveyMakesNoCatalogue(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.writeRoad(t, "[46,111],[46,111.05]")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("new.gpkg"), h.road).want(t, exitFailed)
	if _, err := os.Stat(h.path("new.gpkg")); err == nil {
		t.Error("an empty catalogue was left behind")
	}
}

// A reviewed hill that a new survey puts beyond its bounds is a person's to
// decide, and is marked wherever it is listed until then.
func TestAMovedReviewedHillIsNamedEverywhere(t *testing.T) {
	h := makeHill(t, 6, nil)
	id := first(t, h.survey(t, exitDone), "descents")["id"].(string)
	cat := h.path("c.gpkg")
	gradeline(t, "review", id, "--catalog", cat, "--state", "approved", "--by", "A. Tester").want(t, exitDone)
	steeper := makeHill(t, 9, nil)
	r := gradeline(t, "survey", "--terrain", steeper.dem, "--catalog", cat, h.road)
	if r.code != exitGaps || !strings.Contains(r.err, "--accept") || !strings.Contains(r.err, id) {
		t.Errorf("survey: exit code %d, %s", r.code, r.err)
	}
	if l := gradeline(t, "list", "--catalog", cat); !strings.Contains(l.out, "IN") || !strings.Contains(l.out, "QUESTION") {
		t.Errorf("list does not mark it:\n%s", l.out)
	}
	c := parse(t, gradeline(t, "compare", "--class", "us-5axle", "--catalog", cat, "Test Road", "--json").want(t, exitGaps))
	if first(t, c, "routes")["unknown"] == "" {
		t.Error("compare takes it as known")
	}
	gradeline(t, "review", id, "--catalog", cat, "--accept", "--by", "A. Tester").want(t, exitDone)
	if l := gradeline(t, "show", id, "--catalog", cat); !strings.Contains(l.out, "8.9") && !strings.Contains(l.out, "9.0") && !strings.Contains(l.out, "8.8") {
		t.Errorf("after accepting:\n%.600s", l.out)
	}
}

func TestListNamesRoadsOfWhichNotAllIsKnown(t *testing.T) {
	h := makeHill(t, 6, func(x, z float64) float64 {
		if x > 6000 {
			return math.NaN()
		}
		return z
	})
	h.survey(t, exitGaps)
	r := gradeline(t, "list", "--catalog", h.path("c.gpkg")).want(t, exitGaps)
	if !strings.Contains(r.err, "no known ground") {
		t.Errorf("%s", r.err)
	}
}

func TestCompareDoesNotRecommendAgainstAOneWay(t *testing.T) {
	h := makeHill(t, 6, nil)
	b, err := os.ReadFile(h.road)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Replace(string(b), `"name":"Test Road"`, `"name":"Test Road","oneway":"-1"`, 1)
	if err := os.WriteFile(h.road, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	c := parse(t, gradeline(t, "compare", "--class", "us-5axle", "--terrain", h.dem, h.road, "--json").want(t, exitGaps))
	if u := first(t, c, "routes")["unknown"].(string); !strings.Contains(u, "one-way") {
		t.Errorf("unknown: %q", u)
	}
}

func TestASignFarFromEveryDescentIsNamed(t *testing.T) {
	h := makeHill(t, 6, nil)
	h.survey(t, exitDone)
	inventory := h.path("signs.geojson")
	text := `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"designation":"W7-1"},"geometry":{"type":"Point","coordinates":[10,10]}}]}`
	if err := os.WriteFile(inventory, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	r := gradeline(t, "signs", "--catalog", h.path("c.gpkg"), "--approach", "55mph", "--standing", inventory, "--json").want(t, exitGaps)
	if a := parse(t, r); len(a["skipped"].([]any)) != 1 {
		t.Errorf("skipped %v", a["skipped"])
	}
}

// Two rasters 25 m apart, as an ellipsoidal and an orthometric one would be, are
// no one surface, even where neither names a datum.
func TestRastersOnDifferentHeightsAreNamed(t *testing.T) {
	h := makeHill(t, 6, nil)
	same := makeHill(t, 6, nil)
	h.survey(t, exitDone, "--terrain", same.dem)
	other := makeHill(t, 6, func(_, z float64) float64 { return z + 25 })
	r := gradeline(t, "survey", "--terrain", h.dem, "--terrain", other.dem, "--catalog", h.path("d.gpkg"), h.road).want(t, exitGaps)
	if !strings.Contains(r.err, "is 25.0 m below") || !strings.Contains(r.err, "datum") {
		t.Errorf("%s", r.err)
	}
}
