package main

import (
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"
)

// writeExtract writes an OpenStreetMap file of a road along the hill in n ways, with a
// side road of the class highway=service, which is not read.
func (h hill) writeExtract(t *testing.T, file string, n int) string {
	t.Helper()
	var b strings.Builder
	b.WriteString("<osm version='0.6'>\n")
	for i := range n + 1 {
		fmt.Fprintf(&b, "<node id='%d' lat='%.7f' lon='%.7f'/>\n", i+1, hillLatDeg, hillLonDeg+h.lengthM/degreeM()*float64(i)/float64(n))
	}
	for i := range n {
		fmt.Fprintf(&b, "<way id='%d' timestamp='2026-03-04T00:00:00Z'><nd ref='%d'/><nd ref='%d'/><tag k='highway' v='primary'/><tag k='ref' v='B 500'/></way>\n", 70+i, i+1, i+2)
	}
	b.WriteString("<way id='99'><nd ref='1'/><nd ref='3'/><tag k='highway' v='service'/></way>\n</osm>\n")
	path := h.path(file)
	if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// A road in four ways is one route and its hill one descent; as drawn it is four.
func TestSurveyOfAnExtract(t *testing.T) {
	h := makeHill(t, 6, nil)
	file := h.writeExtract(t, "roads.osm", 4)
	r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg"), "--json", file).want(t, exitDone)
	var a struct {
		Network struct {
			WaysIn    int  `json:"ways_in"`
			RoutesOut int  `json:"routes_out"`
			Joined    bool `json:"joined"`
			Sources   []struct {
				AsOf        string `json:"as_of"`
				Attribution string `json:"attribution"`
			} `json:"sources"`
		} `json:"network"`
		Routes []struct {
			Route   string  `json:"route"`
			LengthM float64 `json:"length_m"`
			Ways    []struct {
				ID       string  `json:"id"`
				Reversed bool    `json:"reversed"`
				FromM    float64 `json:"from_m"`
				ToM      float64 `json:"to_m"`
			} `json:"ways"`
		} `json:"routes"`
		Descents []struct {
			LengthM float64 `json:"length_m"`
		} `json:"descents"`
	}
	if err := json.Unmarshal([]byte(r.out), &a); err != nil {
		t.Fatal(err)
	}
	if a.Network.WaysIn != 4 || a.Network.RoutesOut != 1 || !a.Network.Joined || len(a.Routes) != 1 || len(a.Descents) != 1 {
		t.Fatalf("%+v", a)
	}
	if s := a.Network.Sources; len(s) != 1 || s[0].AsOf != "2026-03-04T00:00:00Z" || !strings.Contains(s[0].Attribution, "OpenStreetMap") {
		t.Errorf("sources %+v", s)
	}
	road := a.Routes[0]
	if road.Route != "B 500" || len(road.Ways) != 4 {
		t.Fatalf("%+v", road)
	}
	for i, w := range road.Ways {
		if w.ID != fmt.Sprint(70+i) || w.Reversed || w.ToM-w.FromM < 0.2*road.LengthM {
			t.Errorf("way %d: %+v", i, w)
		}
	}
	if a.Descents[0].LengthM < 0.4*road.LengthM {
		t.Errorf("the descent is %.0f m of %.0f m", a.Descents[0].LengthM, road.LengthM)
	}
	drawn := parse(t, gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path("d.gpkg"), "--json", "--as-drawn", file).want(t, exitDone))
	if n := len(drawn["routes"].([]any)); n != 4 {
		t.Errorf("as drawn: %d routes", n)
	}
}

func TestExtractFlagsAndFaults(t *testing.T) {
	h := makeHill(t, 6, nil)
	file := h.writeExtract(t, "roads.osm", 4)
	survey := func(code int, want string, more ...string) {
		t.Helper()
		r := gradeline(t, append([]string{"survey", "--terrain", h.dem, "--catalog", h.path("c.gpkg")}, more...)...).want(t, code)
		if !strings.Contains(r.err, want) {
			t.Errorf("%v: %q is missing in %q", more, want, r.err)
		}
		if _, err := os.Stat(h.path("c.gpkg")); err == nil {
			t.Fatalf("%v: a catalogue was left", more)
		}
	}
	survey(exitUsage, `"primry" is not a class of road`, "--roads", "primry", file)
	survey(exitUsage, `"9,8" is not a box`, "--box", "9,8", file)
	survey(exitFailed, "is in the box", "--box", "-9,10,-8,11", file)
	survey(exitFailed, "no road of these classes in it: motorway", "--roads", "motorway", file)
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	cut := h.path("cut.osm")
	if err := os.WriteFile(cut, text[:len(text)-30], 0o644); err != nil {
		t.Fatal(err)
	}
	survey(exitFailed, "line 11: it cannot be read", cut)
}
