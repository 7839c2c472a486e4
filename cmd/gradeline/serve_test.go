package main

import (
	"encoding/json"
	"path/filepath"
	"reflect"
	"testing"

	"gradeline/catalog/holding"
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

// An address beyond this machine is refused without people and encryption.
func TestServeRefusesAnOpenDoor(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	for _, args := range [][]string{{"--addr", "0.0.0.0:0"}, {"--addr", "nonsense"}, {"--proxy", "10.0.0.1"}, {"--proxy", "x", "--host", "y"}, {"--tls-cert", "none.pem"}, {"users", "add"}, {"more"}} {
		gradeline(t, append([]string{"serve", "--catalog", cat}, args...)...).want(t, exitUsage)
	}
	gradeline(t, "serve", "--catalog", cat, "--users", "none").want(t, exitFailed)
}
