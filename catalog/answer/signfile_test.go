package answer

import (
	"bytes"
	"io"
	"strings"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/signs"
)

func TestASignsFileIsOfTheKindThatItsNameSays(t *testing.T) {
	rules, err := signs.FindRuleSet("us-2023")
	if err != nil {
		t.Fatal(err)
	}
	a := &Signs{rules: rules}
	for name, start := range map[string]string{"a.csv": "", "b/A.XLSX": "PK", "posts.GeoJSON": `{"type":"FeatureCollection"`} {
		write := a.FileWriter(name, catalog.Metric)
		if write == nil {
			t.Fatalf("%s: no writer", name)
		}
		var b bytes.Buffer
		if err := write(&b); err != nil || !strings.HasPrefix(strings.ReplaceAll(b.String(), " ", ""), start) {
			t.Errorf("%s: %v, %.60q", name, err, b.String())
		}
	}
	for _, name := range []string{"", "csv", "a.txt", "a.csv.gz"} {
		if a.FileWriter(name, catalog.Metric) != nil {
			t.Errorf("%q has a writer", name)
		}
	}
}

func TestStandingSignsMakeAPlanAnAudit(t *testing.T) {
	var p SignPlan
	err := p.ReadStanding("standing.geojson", strings.NewReader(`{"type":"FeatureCollection","features":[
		{"type":"Feature","properties":{"designation":"W7-1"},"geometry":{"type":"Point","coordinates":[10,46]}},
		{"type":"Feature","properties":{},"geometry":{"type":"Point","coordinates":[10,46]}}]}`))
	if err != nil || !p.IsAudit || p.StandingFile != "standing.geojson" || len(p.Standing) != 1 || len(p.Unread) != 1 {
		t.Errorf("%v: %+v", err, p)
	}
}

func TestTripPagesAreWrittenBestFirst(t *testing.T) {
	a := &TripsAnswer{Trips: make([]TripAnswer, 3)}
	var names []string
	err := a.WritePages("trip.pdf", TripPageOptions{}, func(name string, _ func(io.Writer) error) error {
		names = append(names, name)
		return nil
	})
	if got := strings.Join(names, " "); err != nil || got != "trip.pdf trip-2.pdf trip-3.pdf" {
		t.Errorf("%v: %s", err, got)
	}
}
