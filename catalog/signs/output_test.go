package signs

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/terrain"
)

// Both invented hills have a schedule under every embedded edition, with numbered signs in travel
// order, each with a source and a reason.
func TestScheduleIsComplete(t *testing.T) {
	for _, id := range []string{"us-2023", "uk-2013", "haul-road"} {
		for _, in := range []Input{passDescent(), quarryDescent()} {
			s := plan(t, in, id)
			if len(s.Placements) == 0 || len(s.Stretches) == 0 || len(s.Cautions) < 3 {
				t.Errorf("%s: %d signs, %d stretches, %d cautions", id, len(s.Placements), len(s.Stretches), len(s.Cautions))
			}
			if !strings.Contains(s.Cautions[1], "engineer in charge") || !strings.Contains(s.Cautions[1], s.Edition) {
				t.Errorf("%s does not defer to the engineer and the edition in force: %q", id, s.Cautions[1])
			}
			for i, p := range s.Placements {
				if p.Number != i+1 || p.Why == "" || p.Source.Document == "" || p.Source.Status == "" || p.Need == "" || strings.Contains(p.Legend, "{") {
					t.Errorf("%s: sign %d is not whole: %+v", id, i, p)
				}
				if i > 0 && s.line.pastM(p.StationM) < s.line.pastM(s.Placements[i-1].StationM)-1e-6 {
					t.Errorf("%s: sign %d stands before sign %d", id, i+1, i)
				}
			}
			for _, u := range []catalog.Units{catalog.US, catalog.Metric} {
				checkTables(t, s, u)
			}
			for _, f := range s.Features() {
				if !(terrain.Point{LonDeg: f.LonDeg, LatDeg: f.LatDeg}).Valid() || f.Properties["caution"] == "" {
					t.Errorf("%+v", f)
				}
			}
		}
	}
}

func checkTables(t *testing.T, s Schedule, u catalog.Units) {
	t.Helper()
	unit := map[catalog.Units]string{catalog.US: "_ft", catalog.Metric: "_m"}[u]
	for _, table := range []func(catalog.Units) ([]string, [][]string){s.Table, s.StretchTable} {
		header, rows := table(u)
		if len(rows) == 0 || !strings.HasSuffix(header[slices.IndexFunc(header, func(h string) bool { return strings.HasPrefix(h, "station") || strings.HasPrefix(h, "length") })], unit) {
			t.Errorf("%d rows under %v", len(rows), header)
		}
		for _, r := range rows {
			if len(r) != len(header) {
				t.Errorf("a row of %d under %d columns", len(r), len(header))
			}
		}
	}
}

// The JSON of a schedule has empty lists instead of null, the unit last in each number's name, and
// the same bytes each time.
func TestScheduleAsJSON(t *testing.T) {
	write := func() string {
		b, err := json.Marshal(plan(t, hillOf(0.3, 800, 2), "uk-2013"))
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	if got := write(); !strings.Contains(got, `"signs":[]`) || !strings.Contains(got, `"panel":[]`) || got != write() {
		t.Error(got)
	}
	var tree any
	b, err := json.Marshal(plan(t, passDescent(), "us-2023"))
	if err != nil || json.Unmarshal(b, &tree) != nil {
		t.Fatal(err)
	}
	var walk func(name string, v any)
	walk = func(name string, v any) {
		switch v := v.(type) {
		case map[string]any:
			for k, x := range v {
				walk(k, x)
			}
		case []any:
			for _, x := range v {
				walk(name, x)
			}
		case float64:
			if i := strings.LastIndex(name, "_"); !strings.HasSuffix(name, "number") && (i < 0 || !slices.Contains([]string{"m", "mps", "pct", "kg", "deg"}, name[i+1:])) {
				t.Errorf("%q has no unit", name)
			}
		}
	}
	walk("", tree)
}

// The same hill under each edition: a steepest grade of 8 % warrants a hill sign in the United
// States and on a haul road, but not in the United Kingdom (10 %).
func TestEditionsDiffer(t *testing.T) {
	var schedules []Schedule
	for _, id := range []string{"haul-road", "uk-2013", "us-2023"} {
		schedules = append(schedules, plan(t, passDescent(), id))
	}
	header, rows := EditionTable(schedules, catalog.Metric)
	for _, r := range rows {
		for i, h := range header {
			t.Logf("%-16s %s", h, r[i])
		}
	}
	want := [][2]string{{"hill warranted", "8"}, {"hill not warranted; low-gear not warranted", ""}, {"hill warranted", "8"}}
	for i, r := range rows {
		if r[2] != want[i][0] || r[4] != want[i][1] {
			t.Errorf("%s: %q shown %q", r[0], r[2], r[4])
		}
	}
}

func itoa(n int) string { return whole(catalog.Metric, float64(n)) }
