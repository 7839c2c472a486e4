package main

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"gradeline/catalog"
)

// panelLine reads a line of a speed panel: up to a mass a speed, or over a mass no passage. The mass
// is 0 where the line bars all trucks.
func panelLine(t *testing.T, legend string) (upToKg, overKg, speedMPS float64) {
	t.Helper()
	m := regexp.MustCompile(`^(?:(up to|over) ([0-9,.]+) (lb|t)|trucks): (?:(\d+) (mph|km/h)|not this hill)$`).FindStringSubmatch(legend)
	if m == nil {
		t.Fatalf("not a line of a panel: %q", legend)
	}
	if m[2] != "" {
		v, err := strconv.ParseFloat(strings.ReplaceAll(m[2], ",", ""), 64)
		if err != nil {
			t.Fatal(err)
		}
		v *= map[string]float64{"lb": catalog.PoundKg, "t": 1000}[m[3]]
		if m[1] == "up to" {
			upToKg = v
		} else {
			overKg = v
		}
	}
	if m[4] != "" {
		v, err := strconv.ParseFloat(m[4], 64)
		if err != nil {
			t.Fatal(err)
		}
		speedMPS = v * map[string]float64{"mph": catalog.MilePerHourMPS, "km/h": 1 / 3.6}[m[5]]
	}
	return upToKg, overKg, speedMPS
}

// On every hill of the demo, under every rule set, for all classes and for drawn choices of them, a line that applies to a class's heaviest truck is no faster than show's advice for it,
// and never lets through what show does not hold. Where it bars a truck that show holds, a note
// says why.
func TestPanelNeverContradictsShow(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	var ids []string
	held := map[string]map[string]map[string]any{}
	for _, x := range parse(t, gradeline(t, "list", "--catalog", cat, "--json").want(t, exitDone))["descents"].([]any) {
		id := x.(map[string]any)["id"].(string)
		ids, held[id] = append(ids, id), map[string]map[string]any{}
		shown := parse(t, gradeline(t, "show", id, "--catalog", cat, "--json").want(t, exitDone))
		for _, h := range shown["descent"].(map[string]any)["holds"].([]any) {
			h := h.(map[string]any)
			held[id][h["class"].(string)] = h
		}
	}
	var classes []string
	for c := range held[ids[0]] {
		classes = append(classes, c)
	}
	slices.Sort(classes)
	if len(ids) < 5 || len(classes) < 9 {
		t.Fatalf("%d hills, %d classes", len(ids), len(classes))
	}
	choices := [][]string{nil, classes[:5], classes[len(classes)-5:]}
	r := rand.New(rand.NewPCG(1, 2))
	for range 3 {
		var pick []string
		for _, i := range r.Perm(len(classes))[:1+r.IntN(5)] {
			pick = append(pick, classes[i])
		}
		choices = append(choices, pick)
	}
	lines, barred := 0, 0
	for _, rules := range []string{"us-2023", "uk-2018", "vienna-1968"} { // feet and pounds, miles and tonnes, metric
		for _, chosen := range choices {
			args := append([]string{"signs", "--catalog", cat, "--rules", rules, "--approach", "55mph", "--json"}, ids...)
			for _, c := range chosen {
				args = append(args, "--panel-class", c)
			}
			for _, s := range parse(t, gradeline(t, args...))["schedules"].([]any) {
				n, b := checkPanel(t, s.(map[string]any), held, rules)
				lines, barred = lines+n, barred+b
			}
		}
	}
	if t.Logf("%d classes on lines, %d of them held and barred", lines, barred); lines < 200 {
		t.Errorf("only %d lines were checked", lines)
	}
}

// checkPanel compares one schedule's panel with the holds of its hill.
func checkPanel(t *testing.T, s map[string]any, held map[string]map[string]map[string]any, rules string) (checked, barred int) {
	t.Helper()
	id := s["descent"].(string)
	notes := ""
	for _, n := range s["notes"].([]any) {
		notes += n.(string) + "\n"
	}
	panel := s["panel"].([]any)
	if len(panel) > 5 {
		t.Errorf("%s, %s: %d lines", id, rules, len(panel))
	}
	for _, row := range panel {
		row := row.(map[string]any)
		upToKg, overKg, speedMPS := panelLine(t, row["legend"].(string))
		for _, c := range row["classes"].([]any) {
			h := held[id][c.(string)]
			checked++
			massKg, isHeld := number(t, h, "mass_kg"), h["holds"] == true
			switch {
			case speedMPS > 0 && !isHeld:
				t.Errorf("%s, %s: %q lets %s through, which show does not hold", id, rules, row["legend"], c)
			case speedMPS > number(t, h, "speed_mps")+1e-9:
				t.Errorf("%s, %s: %q for %s, show has %.2f m/s", id, rules, row["legend"], c, number(t, h, "speed_mps"))
			case speedMPS > 0 && upToKg > math.Max(massKg, number(t, row, "mass_kg"))+0.5:
				t.Errorf("%s, %s: %q is heavier than %s of %.0f kg", id, rules, row["legend"], c, massKg)
			case speedMPS == 0 && isHeld:
				barred++
				if overKg > massKg || !strings.Contains(notes, "Class "+c.(string)+" ") {
					t.Errorf("%s, %s: %q bars %s of %.0f kg, which show holds, and no note says why", id, rules, row["legend"], c, massKg)
				}
			}
		}
	}
	return checked, barred
}
