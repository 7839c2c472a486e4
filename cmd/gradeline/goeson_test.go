package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strings"
	"testing"
)

// A hill of 4 km in two roads of different names that meet at a corner is told whole
// from its crest: the first road's descent goes on in the second, its advice is for the
// whole, and neither is cut by an end.
func TestAHillGoesOnBeyondItsRoad(t *testing.T) {
	h := makeHill(t, 6, nil) // falls from 1.5 to 5.5 km
	at := func(m float64) string {
		return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+m/degreeM(), hillLatDeg)
	}
	north := fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+3500/degreeM(), hillLatDeg+20*cellDeg)
	write := func(file string, lines ...string) string {
		var list []string
		for i, l := range lines {
			list = append(list, fmt.Sprintf(`{"type":"Feature","properties":{"name":"Road %c"},"geometry":{"type":"LineString","coordinates":[%s]}}`, 'A'+i, l))
		}
		path := h.path(file)
		if err := os.WriteFile(path, []byte(`{"type":"FeatureCollection","features":[`+strings.Join(list, ",")+`]}`), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	type descent struct {
		ID        string  `json:"id"`
		Route     string  `json:"route"`
		Direction string  `json:"direction"`
		LengthM   float64 `json:"length_m"`
		DropM     float64 `json:"drop_m"`
		Flags     []string
		GoesOn    []struct {
			Route   string  `json:"route"`
			LengthM float64 `json:"length_m"`
			DropM   float64 `json:"drop_m"`
			MeanPct float64 `json:"mean_downgrade_pct"`
		} `json:"goes_on"`
		Holds []struct {
			Class    string  `json:"class"`
			SpeedMPS float64 `json:"speed_mps"`
			GearByM  float64 `json:"gear_by_m"`
		} `json:"holds"`
	}
	survey := func(file string) []descent {
		t.Helper()
		r := gradeline(t, "survey", "--terrain", h.dem, "--catalog", h.path(fmt.Sprintf("%d.gpkg", len(file))), "--json", file)
		if r.code != exitDone && r.code != exitGaps {
			t.Fatalf("exit %d: %s", r.code, r.err)
		}
		var a struct {
			Descents []descent `json:"descents"`
		}
		if err := json.Unmarshal([]byte(r.out), &a); err != nil {
			t.Fatal(err)
		}
		return a.Descents
	}
	// A corner of 60° parts the road into two that are not joined: the names differ and
	// a third line meets there.
	corner := write("corner.geojson", at(0)+","+at(3500), fmt.Sprintf("%s,[%.7f,%.7f],%s", at(3500), hillLonDeg+3515/degreeM(), hillLatDeg-0.00045, at(7000)), at(3500)+","+north)
	list := survey(corner)
	var first *descent
	for i := range list {
		if list[i].Route == "Road A" && list[i].Direction == "forward" {
			first = &list[i]
		}
	}
	if first == nil || len(first.GoesOn) == 0 {
		t.Fatalf("no descent of road A goes on: %+v", list)
	}
	if math.Abs(first.LengthM-2000) > 150 {
		t.Errorf("the descent on road A is %.0f m", first.LengthM)
	}
	var whole float64
	for _, g := range first.GoesOn {
		if g.Route == "Road B" {
			whole = g.LengthM
			if math.Abs(g.LengthM-4000) > 200 || math.Abs(g.DropM-240) > 8 || math.Abs(g.MeanPct-6) > 0.3 {
				t.Errorf("as driven on: %+v", g)
			}
		}
	}
	if whole == 0 {
		t.Errorf("it goes on in %+v", first.GoesOn)
	}
	for _, f := range first.Flags {
		if f == "cut-by-end" {
			t.Error("the descent of road A is called cut by the end")
		}
	}
	if len(first.Holds) == 0 {
		t.Fatal("no holds")
	}
	for _, k := range first.Holds {
		if k.GearByM < 0 || k.GearByM > 1600 {
			t.Errorf("%s: in gear by %.0f m", k.Class, k.GearByM)
		}
	}
	// Two roads of some 700 m down each are one hill: neither is a descent alone.
	h.dem = makeHill(t, 6, func(_, z float64) float64 { return math.Max(z, 1500-84) }).dem // falls from 1.5 to 2.9 km
	northOfIt := fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+2200/degreeM(), hillLatDeg+20*cellDeg)
	turn := write("short-roads.geojson", at(0)+","+at(2200), fmt.Sprintf("%s,[%.7f,%.7f],%s", at(2200), hillLonDeg+2215/degreeM(), hillLatDeg-0.00045, at(4000)), at(2200)+","+northOfIt)
	list = survey(turn)
	if len(list) != 1 || list[0].Route != "Road A" || list[0].LengthM > 800 || len(list[0].GoesOn) == 0 {
		t.Fatalf("two short roads: %+v", list)
	}
	if g := list[0].GoesOn[0]; g.Route != "Road B" || math.Abs(g.LengthM-1400) > 150 || math.Abs(g.DropM-84) > 6 {
		t.Errorf("two short roads: %+v", g)
	}
	cat := h.path(fmt.Sprintf("%d.gpkg", len(turn)))
	if r := gradeline(t, "show", "--catalog", cat, list[0].ID); !strings.Contains(r.out, "continues in") || !strings.Contains(r.out, "Road B: with this road the hill is 1.5 km long") {
		t.Errorf("show: %s%s", r.out, r.err)
	}
	page := h.path("page.html")
	if r := gradeline(t, "sheet", "--catalog", cat, "--class", "us-5axle", "-o", page, list[0].ID); r.code != exitDone && r.code != exitGaps {
		t.Fatalf("sheet: %s", r.err)
	}
	text, err := os.ReadFile(page)
	if err != nil || !strings.Contains(string(text), "NOT THE FOOT") {
		t.Errorf("the page does not say that the hill goes on (%v)", err)
	}
}
