package main

import (
	"fmt"
	"path/filepath"
	"testing"
)

// The demo's gentlest hill uses over four fifths of the retarder in the page's gear: it is not left
// out, but practised in a lower gear, which has the margin asked for in hand by the same rules as the
// page.
func TestPracticeTakesALowerGearBeforeItLeavesAHillOut(t *testing.T) {
	cat := filepath.Join(demoDir(t), "demo.gpkg")
	a := parse(t, gradeline(t, "practice", "--class", "us-5axle", "--catalog", cat, "--json").want(t, exitDone))
	found := false
	for _, x := range a["ladder"].([]any) {
		r := x.(map[string]any)
		if number(t, r, "margin_pct") < 20 {
			t.Errorf("%v leaves %v", r["descent"], r["margin_pct"])
		}
		if r["page_gear_name"] == "" {
			continue
		}
		found = true
		if number(t, r, "speed_mps") >= number(t, r, "page_speed_mps") || r["gear_name"] == r["page_gear_name"] || number(t, r, "margin_pct") < 20 {
			t.Errorf("%v: gear %v at %v, the page has %v at %v; %v in hand", r["descent"], r["gear_name"], r["speed_mps"], r["page_gear_name"], r["page_speed_mps"], r["margin_pct"])
		}
		// the hold command, which shares no code with the ladder, asked for the steepest 500 m and that speed
		h := parse(t, gradeline(t, "show", r["descent"].(string), "--catalog", cat, "--json").want(t, exitDone))["descent"].(map[string]any)
		steep := number(t, h, "steepest_500m_pct")
		plain := parse(t, gradeline(t, "hold", "--grade", fmt.Sprintf("%.3f%%", steep), "--length", "500m", "--class", "us-5axle", "--posted", fmt.Sprintf("%.3fkm/h", number(t, r, "speed_mps")*3.6), "--json").want(t, exitDone))["hold"].(map[string]any)
		if use := number(t, plain, "retarder_use_pct"); use > 80 {
			t.Errorf("%v: on its steepest 500 m as a plain grade %v %% is in use", r["descent"], use)
		}
	}
	if !found {
		t.Error("no hill is practised in a lower gear")
	}
}
