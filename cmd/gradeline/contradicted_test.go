package main

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// Two roads meet at a node, and their grade lines differ there by tens of metres: one ends on a
// bridge that its tag states, and the ground falls away under it, the other begins on the ground.
// Neither can be relied on near the node, whichever of them comes first: flags in the answer, in
// the catalogue and in lists of it, exit code 3. The hill beyond keeps its answer.
func TestAContradictedDescentIsUnreliable(t *testing.T) {
	h := makeHill(t, 6, func(xM, z float64) float64 {
		z -= 6.0 / 100 * max(0, min(1500, xM-5500)) // it falls on to the end
		return z - 1.2*max(0, min(50, xM-4000))     // and by 60 m more at 4,000 m
	})
	at := func(xM float64) string { return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+xM/degreeM(), hillLatDeg) }
	high := `{"type":"Feature","properties":{"route":"High Road","structures":[{"kind":"bridge","from_m":3980,"to_m":4300}]},"geometry":{"type":"LineString","coordinates":[` + at(0) + "," + at(4300) + `]}}`
	low := `{"type":"Feature","properties":{"route":"Low Road"},"geometry":{"type":"LineString","coordinates":[` + at(4300) + "," + at(7000) + `]}}`
	for _, list := range []string{high + "," + low, low + "," + high} {
		if err := os.WriteFile(h.road, []byte(`{"type":"FeatureCollection","features":[`+list+`]}`), 0o644); err != nil {
			t.Fatal(err)
		}
		os.Remove(h.path("c.gpkg"))
		a := h.survey(t, exitGaps)
		for _, r := range a["routes"].([]any) {
			if r := r.(map[string]any); r["reliable"] != false || !strings.Contains(fmt.Sprint(r["unreliable"]), "where they meet") || len(r["doubtful"].([]any)) == 0 {
				t.Errorf("%v: reliable %v, %v", r["route"], r["reliable"], r["unreliable"])
			}
		}
		flags := func(d map[string]any) []string {
			var out []string
			for _, f := range d["flags"].([]any) {
				out = append(out, f.(string))
			}
			return out
		}
		found := a["descents"].([]any)
		if len(found) < 2 {
			t.Fatalf("%d descents", len(found))
		}
		for _, d := range found {
			if d := d.(map[string]any); !slices.Contains(flags(d), "unreliable") {
				t.Errorf("survey: %v has flags %v", d["id"], d["flags"])
			}
		}
		listed := parse(t, gradeline(t, "list", "--json", "--catalog", h.path("c.gpkg")).want(t, exitGaps))
		for i, d := range listed["descents"].([]any) {
			if d := d.(map[string]any); !slices.Contains(flags(d), "unreliable") {
				t.Errorf("list: %v has flags %v", d["id"], d["flags"])
			} else if i == 0 && !strings.Contains(fmt.Sprint(listed["gaps"]), "where they meet") {
				t.Errorf("gaps %v", listed["gaps"])
			}
		}
		os.Remove(h.path("c.gpkg"))
		r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), h.road).want(t, exitGaps)
		if strings.Count(r.out, "unreliable") < 2 || !strings.Contains(r.err, "but their grade lines differ by") {
			t.Errorf("the table says\n%s\n%s", r.out, r.err)
		}
		gradeline(t, "doctor", "--catalog", h.path("c.gpkg")).want(t, 0)
	}
}
