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

// A way over a road that another road contradicts is not known either, without terrain: also where
// it passes the node on one road alone. Merged from the parts of a survey it stays so, and the class
// of the survey keeps its search graph.
func TestAWayOverAContradictedRoadIsNotKnown(t *testing.T) {
	h := makeHill(t, 6, func(xM, z float64) float64 {
		return z - 30*max(0, min(1, (xM-4150)/50, (4450-xM)/50)) // a valley of 30 m
	})
	at := func(xM, northM float64) string {
		return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+xM/degreeM(), hillLatDeg+northM/111_195)
	}
	line := func(name, more string, coordinates ...string) string {
		return `{"type":"Feature","properties":{"name":"` + name + `"` + more + `},"geometry":{"type":"LineString","coordinates":[` + strings.Join(coordinates, ",") + `]}}`
	}
	bridge := func(fromM, toM int) string {
		return fmt.Sprintf(`,"structures":[{"kind":"bridge","from_m":%d,"to_m":%d}]`, fromM, toM)
	}
	low := line("Low Road", "", at(4300, 280), at(4300, 0)) // said to end on the bridge over it
	high := line("High Road", bridge(1000, 1324), at(3000, -250), at(4300, 0)) + "," + line("High Road", bridge(0, 376), at(4300, 0), at(7000, 0))
	ask := func(cat string, code int, says string) {
		t.Helper()
		r := gradeline(t, "route", "--catalog", cat, "--from", strings.Trim(at(3000, -250), "[]"), "--to", strings.Trim(at(6900, 0), "[]"), "--class", "us-5axle", "--allow-unknown", "--json").want(t, code)
		if !strings.Contains(r.out, says) || strings.Contains(r.err, "takes longer") {
			t.Errorf("%s: want %q: %.600s\n%s", cat, says, r.out, r.err)
		}
	}
	for i, list := range []string{high + "," + low, low + "," + high, high} {
		if err := os.WriteFile(h.road, []byte(`{"type":"FeatureCollection","features":[`+list+`]}`), 0o644); err != nil {
			t.Fatal(err)
		}
		cat := h.path(fmt.Sprintf("c%d.gpkg", i))
		if i == 2 { // without the other road nothing contradicts it
			gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, h.road).want(t, exitDone)
			ask(cat, exitDone, `"held": true`)
			continue
		}
		gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, h.road).want(t, exitGaps)
		ask(cat, exitGaps, "where they meet")
		gradeline(t, "doctor", "--catalog", cat).want(t, 0)
		parts := []string{h.path(fmt.Sprintf("a%d.gpkg", i)), h.path(fmt.Sprintf("b%d.gpkg", i))}
		for k, part := range parts {
			gradeline(t, "survey", "--terrain", h.dem, "--catalog", part, "--shard", fmt.Sprintf("%d/2", k+1), h.road)
		}
		gradeline(t, "merge", parts[1], "--catalog", parts[0]).want(t, exitDone)
		ask(parts[0], exitGaps, "not known")
	}
}

// A road that is surveyed alone is compared with the roads of earlier surveys that it meets: neither
// can be relied on near a node where they contradict each other, in the answer and in the catalogue,
// whichever was surveyed first. Roads without a place in the network are said not to be compared.
func TestAContradictionOfAnEarlierSurveyIsSeen(t *testing.T) {
	h := makeHill(t, 6, func(xM, z float64) float64 {
		return z - 30*max(0, min(1, (xM-4150)/50, (4450-xM)/50)) // a valley of 30 m
	})
	at := func(xM, northM float64) string {
		return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+xM/degreeM(), hillLatDeg+northM/111_195)
	}
	write := func(name string, lines ...string) string {
		path := h.path(name + ".geojson")
		if err := os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(lines, ",")+`]}`), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	line := func(properties string, coordinates ...string) string {
		return `{"type":"Feature","properties":{` + properties + `},"geometry":{"type":"LineString","coordinates":[` + strings.Join(coordinates, ",") + `]}}`
	}
	bridge := func(fromM, toM int) string {
		return fmt.Sprintf(`"name":"High Road","structures":[{"kind":"bridge","from_m":%d,"to_m":%d}]`, fromM, toM)
	}
	// Low Road is said to end on the bridge over it.
	low := write("low", line(`"name":"Low Road"`, at(4300, 280), at(4300, 140)), line(`"name":"Low Road"`, at(4300, 140), at(4300, 0)))
	over := write("over", line(bridge(1000, 1324), at(3000, -250), at(4300, 0)), line(bridge(0, 376), at(4300, 0), at(7000, 0)))
	ending := write("ending", line(`"name":"High Road"`, at(2000, -250), at(3000, -250)), line(bridge(1000, 1323), at(3000, -250), at(4300, 0)))
	for i, pair := range [][2]string{{over, low}, {low, over}, {ending, low}, {low, ending}} {
		cat := h.path(fmt.Sprintf("earlier%d.gpkg", i))
		survey := func(road string, code int) result {
			return gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, road).want(t, code)
		}
		survey(pair[0], exitDone)
		if r := survey(pair[1], exitGaps); !strings.Contains(r.err, "but their grade lines differ by") || !strings.Contains(r.err, "High Road") || !strings.Contains(r.err, "Low Road") {
			t.Errorf("%d: %s", i, r.err)
		}
		check := func(when string) {
			listed := parse(t, gradeline(t, "list", "--json", "--catalog", cat).want(t, exitGaps))
			for _, road := range []string{"High Road", "Low Road"} {
				if !strings.Contains(fmt.Sprint(listed["gaps"]), road) {
					t.Errorf("%d, %s: nothing about %s in %v", i, when, road, listed["gaps"])
				}
			}
			r := gradeline(t, "route", "--catalog", cat, "--from", strings.Trim(at(4300, 280), "[]"), "--to", strings.Trim(at(3000, -250), "[]"), "--class", "us-5axle", "--allow-unknown", "--json").want(t, exitGaps)
			if !strings.Contains(r.out, "where they meet") {
				t.Errorf("%d, %s: %.600s", i, when, r.out)
			}
		}
		check("after the second")
		survey(pair[0], exitGaps) // again alone: the other one still contradicts it
		check("after the first again")
		gradeline(t, "doctor", "--catalog", cat).want(t, 0)
	}
	drawn := write("drawn", line(`"route":"Low Road"`, at(4300, 280), at(4300, 0)))
	cat := h.path("drawn.gpkg")
	gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, over).want(t, exitDone)
	if r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, drawn).want(t, exitGaps); !strings.Contains(r.err, "but their grade lines differ by") || strings.Contains(r.err, "were not compared") {
		t.Errorf("a line that ends at a road of the network: %s", r.err)
	}
	if r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", cat, over); !strings.Contains(r.err, "were not compared with those of 1 road of earlier") {
		t.Errorf("a road whose heights are not kept: %s", r.err)
	}
}
