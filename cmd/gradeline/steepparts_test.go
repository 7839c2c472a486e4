package main

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"
)

// street writes a road that falls by 6.2 % over 500 m, 8 % over 100 m of them, and is even on
// both sides: too short for a descent.
func street(t *testing.T) hill {
	t.Helper()
	return makeHill(t, 0, func(xM, _ float64) float64 {
		over := func(fromM, toM float64) float64 { return math.Max(0, math.Min(toM, xM)-fromM) }
		return 400 - 0.0575*over(2000, 2200) - 0.08*over(2200, 2300) - 0.0575*over(2300, 2500)
	})
}

// What a survey finds of steep parts outside any descent stands in the catalogue, and every list of
// it says so.
func TestASteepPartOutsideDescentsIsShown(t *testing.T) {
	h := street(t)
	a := h.survey(t, 0)
	part := first(t, first(t, a, "routes"), "steep_parts")
	if s, e, g := number(t, part, "start_m"), number(t, part, "end_m"), number(t, part, "mean_downgrade_pct"); math.Abs(s-2000) > 60 || math.Abs(e-2500) > 60 || math.Abs(g-6.2) > number(t, part, "mean_downgrade_err_pct")+.2 {
		t.Errorf("from %.0f to %.0f m at %.2f %%; built from 2,000 to 2,500 m at 6.2 %%", s, e, g)
	}
	catalog := []string{"--catalog", h.path("c.gpkg")}
	with := func(args ...string) []string { return append(args, catalog...) }
	text := strings.Join(strings.Fields(gradeline(t, with("list", "--units", "metric")...).want(t, 0).out), " ")
	for _, want := range []string{"0 descents", "1 steep part outside descents", "Test Road, eastbound", "6.2 ±", "0.4 km"} {
		if !strings.Contains(text, want) {
			t.Errorf("list does not say %q:\n%s", want, text)
		}
	}
	listed := first(t, parse(t, gradeline(t, with("list", "--json")...).want(t, 0)), "steep_parts")
	for _, key := range []string{"start_m", "end_m", "length_m", "mean_downgrade_pct", "mean_downgrade_err_pct"} {
		if number(t, listed, key) != number(t, part, key) {
			t.Errorf("%s is %v in the catalogue, %v in the survey", key, listed[key], part[key])
		}
	}
	var overlay map[string]any
	if err := json.Unmarshal([]byte(gradeline(t, with("overlay", "descents")...).want(t, 0).out), &overlay); err != nil {
		t.Fatal(err)
	}
	if p := first(t, overlay, "features")["properties"].(map[string]any); p["kind"] != "steep part" || number(t, p, "mean_downgrade_pct") != number(t, part, "mean_downgrade_pct") {
		t.Errorf("overlay: %v", p)
	}
	for _, from := range [][]string{with("compare", "Test Road"), {"compare", "--terrain", h.dem, h.road}} {
		compared := parse(t, gradeline(t, append(from, "--class", "us-5axle", "--json")...).want(t, 0))
		if v := first(t, compared, "routes"); number(t, first(t, v, "steep_parts"), "length_m") < 400 || !strings.Contains(v["why"].(string), "no sustained downgrade; 1 steep part outside descents, the steepest 6.2") {
			t.Errorf("%v: %v", from, v["why"])
		}
	}
	page := gradeline(t, with("report", "--units", "metric")...).want(t, 0).out
	for _, want := range []string{"Steep parts outside descents", "Test Road, eastbound", `<path class="steep"`} {
		if !strings.Contains(page, want) {
			t.Errorf("the report does not say %q", want)
		}
	}
	for _, end := range []string{".csv", ".txt", ".xlsx", ".gpkg"} {
		file := h.path("list" + end)
		gradeline(t, with("list", "-o", file)...).want(t, 0)
		if b, err := os.ReadFile(file); err != nil || end != ".xlsx" && end != ".gpkg" && !strings.Contains(strings.Join(strings.Fields(string(b)), " "), "1 steep part outside descents") {
			t.Errorf("%s says nothing of it: %v", end, err)
		}
	}
	copied := first(t, parse(t, gradeline(t, "list", "--json", "--catalog", h.path("list.gpkg")).want(t, 0)), "steep_parts")
	if number(t, copied, "start_m") != number(t, part, "start_m") {
		t.Errorf("a part of the catalogue has %v", copied)
	}
}

// A steep part outside any descent is judged by each rule set. Source: MUTCD of 2023, section
// 2C.16: a hill sign where the downgrade is 9 % or more and longer than 500 ft; the British sets
// ask for 10 %.
func TestSignsForASteepPartOutsideDescents(t *testing.T) {
	h := makeHill(t, 0, func(xM, _ float64) float64 { return 400 - 0.095*math.Max(0, math.Min(450, xM-2000)) })
	a := h.survey(t, 0)
	if part := first(t, first(t, a, "routes"), "steep_parts"); len(a["descents"].([]any)) > 0 || number(t, part, "length_m") < 400 {
		t.Fatalf("built 9.5 %% over 450 m, found %v", part)
	}
	for rules, isCalled := range map[string]bool{"us-2023": true, "uk-2013": false} {
		r := parse(t, gradeline(t, "signs", "--rules", rules, "--json", "--catalog", h.path("c.gpkg")).want(t, 0))
		parts := r["steep_parts"].([]any)
		if (len(parts) > 0) != isCalled {
			t.Errorf("%s: %v", rules, parts)
		}
	}
	text := gradeline(t, "signs", "--catalog", h.path("c.gpkg")).want(t, 0).out
	for _, want := range []string{"Steep parts outside descents that call for a sign", "Test Road, eastbound", "warranted"} {
		if !strings.Contains(text, want) {
			t.Errorf("signs does not say %q:\n%s", want, text)
		}
	}
	if out := gradeline(t, "overlay", "signs", "--catalog", h.path("c.gpkg")).want(t, 0).out; !strings.Contains(out, "steep-part/Test Road/forward/") {
		t.Errorf("overlay: %s", out)
	}
	gradeline(t, "signs", "-o", h.path("s.xlsx"), "--catalog", h.path("c.gpkg")).want(t, 0)
}
