package main

import (
	"context"
	"encoding/json"
	"math"
	"path/filepath"
	"reflect"
	"testing"

	"gradeline/catalog"
	"gradeline/catalog/answer"
	"gradeline/catalog/holding"
	"gradeline/catalog/store"
	"gradeline/catalog/whatif"
)

// The page's what-if gives what hold --json gives, key for key.
func TestWhatIfIsHold(t *testing.T) {
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for i := range classes {
		typed := whatif.Typed{Class: classes[i].ID, Grade: "7%", Length: "5km", Temperature: "30C", Altitude: "2000m", Posted: "60km/h"}
		question, err := json.Marshal(map[string]any{"typed": typed})
		if err != nil {
			t.Fatal(err)
		}
		var page, hold map[string]any
		if err := json.Unmarshal(whatif.AskJSON(question, classes), &page); err != nil {
			t.Fatal(err)
		}
		out := gradeline(t, "hold", "--class", typed.Class, "--grade", typed.Grade, "--length", typed.Length, "--temperature", typed.Temperature, "--altitude", typed.Altitude, "--posted", typed.Posted, "--json").want(t, exitDone).out
		if err := json.Unmarshal([]byte(out), &hold); err != nil {
			t.Fatal(err)
		}
		delete(page, "shown")
		if !reflect.DeepEqual(page, hold) {
			t.Errorf("%s: the page gives %v, hold --json %v", typed.Class, page, hold)
		}
	}
}

// On a descent's own grade line, as the catalogue keeps it, the page's what-if gives what show gives:
// the same choices, and figures within the rounding of the stored line.
func TestWhatIfOnAGradeLineIsShow(t *testing.T) {
	classes, err := holding.DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	ctx := context.Background()
	cat, err := store.Open(ctx, filepath.Join(demoDir(t), "demo.gpkg"), store.Options{ReadOnly: true, Tool: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer cat.Close()
	es, err := cat.Descents(ctx, store.Filter{})
	if err != nil || len(es) < 6 {
		t.Fatal(len(es), err)
	}
	compared, atEdge := 0, 0
	for i := range es {
		line, err := answer.GradeLineOf(ctx, cat, &es[i])
		if err != nil {
			t.Fatal(err)
		}
		asker := whatif.NewAsker(classes, line)
		for k := range es[i].Holds {
			want := &es[i].Holds[k]
			a, err := asker.Ask(whatif.Question{Class: want.Class, OwnLine: true})
			if err != nil {
				t.Fatalf("%s, %s: %v", es[i].Descent.ID, want.Class, err)
			}
			got := &a.Hold
			compared++
			if got.Holds && got.Gear == want.Gear && got.SpeedMPS != want.SpeedMPS && math.Abs(got.SpeedMPS-want.SpeedMPS) < 1.01*catalog.MilePerHourMPS && math.Abs(got.HeaviestMassKg-want.HeaviestMassKg) < 1 {
				atEdge++ // the rounding of the stored line took it over the edge of a whole unit
				continue
			}
			if got.Holds != want.Holds || got.Gear != want.Gear || got.Stage != want.Stage || got.SpeedMPS != want.SpeedMPS || got.LimitedBy != want.LimitedBy || !reflect.DeepEqual(got.SurfacesOut, want.SurfacesOut) {
				t.Errorf("%s, %s: the page gives gear %d, stage %d, %.2f m/s (%s), show %d, %d, %.2f (%s)", es[i].Descent.ID, want.Class, got.Gear, got.Stage, got.SpeedMPS, got.LimitedBy, want.Gear, want.Stage, want.SpeedMPS, want.LimitedBy)
			}
			for what, d := range map[string]float64{"rpm": got.EngineRPM - want.EngineRPM, "use": 10 * (got.RetarderUsePct - want.RetarderUsePct), "heaviest": (got.HeaviestMassKg - want.HeaviestMassKg) / 10, "missing": (got.MissingPowerW - want.MissingPowerW) / 100} {
				if math.Abs(d) > 1 {
					t.Errorf("%s, %s: %s differs by %g", es[i].Descent.ID, want.Class, what, d)
				}
			}
		}
	}
	if t.Logf("%d answers compared, %d at an edge", compared, atEdge); atEdge > compared/50 {
		t.Errorf("%d of %d answers differ by a whole unit", atEdge, compared)
	}
}

// An address beyond this machine is refused without people and encryption.
func TestServeRefusesAnOpenDoor(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	for _, args := range [][]string{{"--addr", "0.0.0.0:0"}, {"--addr", "nonsense"}, {"--proxy", "10.0.0.1"}, {"--proxy", "x", "--host", "y"}, {"--tls-cert", "none.pem"}, {"users", "add"}, {"more"}} {
		gradeline(t, append([]string{"serve", "--catalog", cat}, args...)...).want(t, exitUsage)
	}
	gradeline(t, "serve", "--catalog", cat, "--users", "none").want(t, exitFailed)
}
