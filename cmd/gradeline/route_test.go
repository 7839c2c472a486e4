package main

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// writeWayRound writes a network of a steep straight road and a level way round it.
func (h hill) writeWayRound(t *testing.T, tags string) string {
	t.Helper()
	at := func(m, cells float64) string {
		return fmt.Sprintf("[%.7f,%.7f]", hillLonDeg+m/degreeM(), hillLatDeg+cells*cellDeg)
	}
	line := func(tags string, places ...string) string {
		return fmt.Sprintf(`{"type":"Feature","properties":{"highway":"primary","bridge":"no"%s},"geometry":{"type":"LineString","coordinates":[%s]}}`, tags, strings.Join(places, ","))
	}
	file := h.path("net.geojson")
	text := `{"type":"FeatureCollection","features":[` + strings.Join([]string{
		line(`,"name":"Steep"`+tags, at(600, 0), at(6000, 0)), line(`,"name":"Round"`, at(600, 0), at(600, 20), at(6000, 20), at(6000, 0)),
	}, ",") + `]}`
	if err := os.WriteFile(file, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func TestRouteAnswers(t *testing.T) {
	// 10.5 % over four kilometres; the way round is as steep, further north.
	h := makeHill(t, 10.5, nil)
	file := h.writeWayRound(t, "")
	from, to := fmt.Sprintf("%.6f,%.6f", hillLonDeg+600/degreeM(), hillLatDeg), fmt.Sprintf("%.6f,%.6f", hillLonDeg+6000/degreeM(), hillLatDeg)
	down := gradeline(t, "route", "--class", "ca-btrain-63t", "--from", from, "--to", to, "--terrain", h.dem, "--json", file).want(t, exitGaps)
	a := parse(t, down)
	if n := len(a["trips"].([]any)); n != 0 || a["no_way"] == "" || a["opens"] == "" || a["refused"] == nil {
		t.Errorf("down 10.5 %%: %d trips, no way %q, opens %q, refused %v", n, a["no_way"], a["opens"], a["refused"] != nil)
	}
	out := h.path("way.gpx")
	up := gradeline(t, "route", "--class", "ca-btrain-63t", "--from", to, "--to", from, "--terrain", h.dem, "--json", "-o", out, file).want(t, exitDone)
	trips := parse(t, up)["trips"].([]any)
	if len(trips) != 1 {
		t.Fatalf("up: %d trips", len(trips))
	}
	trip := trips[0].(map[string]any)
	if trip["held"] != true || trip["length_m"].(float64) < 5390 || trip["length_m"].(float64) > 5410 || len(trip["ways"].([]any)) != 1 || len(trip["line"].([]any)) < 2 {
		t.Errorf("up: held %v, %v m, ways %v", trip["held"], trip["length_m"], trip["ways"])
	}
	if b, err := os.ReadFile(out); err != nil || !strings.Contains(string(b), "<trkpt lat=") {
		t.Errorf("GPX: %v", err)
	}
	if b, err := os.ReadFile(out); err != nil || !strings.Contains(string(b), "A planning aid") {
		t.Errorf("GPX without its cautions: %v", err)
	}
	for name, mark := range map[string]string{"trip.html": "<!DOCTYPE html>", "trip.pdf": "%PDF"} {
		gradeline(t, "route", "--class", "ca-btrain-63t", "--from", to, "--to", from, "--terrain", h.dem, "--page", h.path(name), file).want(t, exitDone)
		if b, err := os.ReadFile(h.path(name)); err != nil || !strings.HasPrefix(string(b), mark) {
			t.Errorf("%s: %v", name, err)
		}
	}
	// A weight limit on the straight road sends the truck round.
	round := gradeline(t, "route", "--class", "ca-btrain-63t", "--from", to, "--to", from, "--terrain", h.dem, "--json", h.writeWayRound(t, `,"maxweight":"7.5"`)).want(t, exitDone)
	if w := parse(t, round)["trips"].([]any)[0].(map[string]any); w["length_m"].(float64) < 5800 {
		t.Errorf("with a limit of 7.5 t: %v m", w["length_m"])
	}
	gradeline(t, "route", "--class", "ca-btrain-63t", "--from", "here", "--to", to, "--terrain", h.dem, file).want(t, exitUsage)
	gradeline(t, "route", "--class", "ca-btrain-63t", "--from", "50,10", "--to", to, "--terrain", h.dem, file).want(t, exitFailed)
}
