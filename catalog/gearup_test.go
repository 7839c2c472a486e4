package catalog

import (
	"encoding/json"
	"strings"
	"testing"
)

// A catalogue written before there were data beside the words still opens, and its
// words stand as they are.
func TestOlderHoldsKeepTheirWords(t *testing.T) {
	const old = `{"class":"x","holds":true,"one_gear_up":"gear 7: runs away at 50 km/h","heat_case":"as written","limits":[{"reason":"curve","note":"radius 149 m: x"}]}`
	var h Hold
	if err := json.Unmarshal([]byte(old), &h); err != nil {
		t.Fatal(err)
	}
	for _, u := range []Units{US, Metric} {
		if h.OneGearUpIn(u) != "gear 7: runs away at 50 km/h" || h.HeatCaseIn(u) != "as written" || h.Limits[0].NoteIn(u) != "radius 149 m: x" {
			t.Errorf("%q, %q, %q", h.OneGearUpIn(u), h.HeatCaseIn(u), h.Limits[0].NoteIn(u))
		}
	}
}

func TestGearUpIsSaidInTheReadersUnits(t *testing.T) {
	for _, c := range []struct {
		up         GearUp
		metric, us string
	}{
		{GearUp{Outcome: GearUpNone}, "top gear", "top gear"},
		{GearUp{Gear: 7, Outcome: GearUpTooSlow, SpeedMPS: 20 / 3.6, EngineRPM: 1012}, "20 km/h", "1000 rpm"},
		{GearUp{Gear: 7, Outcome: GearUpOverspeed, SpeedMPS: 50 / 3.6, EngineRPM: 2100, BelowCrestM: 1609.344}, "50 km/h, 1.6 km below", "31 mph, 1.0 mi below"},
		{GearUp{Gear: 7, Outcome: GearUpGains, SpeedMPS: 50.2 / 3.6}, "about 51 km/h", "about 32 mph"}, // up: 50.2 km/h are 31.2 mph
		{GearUp{Gear: 7, Outcome: GearUpTooSteep, RetarderUsePct: 104}, "needs 104 %", "does not hold"},
		{GearUp{Gear: 7, Outcome: GearUpReserve, RetarderUsePct: 93}, "only by 93 %", "only by 93 %"},
		{GearUp{Gear: 5, Outcome: GearUpHolds, RetarderUsePct: 52}, "holds by 52 %", "holds by 52 %"},
	} {
		h := Hold{GearUp: &c.up}
		if !strings.Contains(h.OneGearUpIn(Metric), c.metric) || !strings.Contains(h.OneGearUpIn(US), c.us) {
			t.Errorf("%q and %q, want %q and %q", h.OneGearUpIn(Metric), h.OneGearUpIn(US), c.metric, c.us)
		}
	}
	working, fade := 3000.0, 5000.0
	k := HeatCase{WorkingToC: 204.4, WorkingM: &working, FadeFromC: 315.6, FadeM: &fade, SnubMPS: 5 * 0.44704, SnubRiseC: 4, SnubEveryS: 4.6}
	if w := k.Words(US); !strings.Contains(w, "(400 °F) 1.9 mi below the crest, poor linings fade (600 °F) from 3.1 mi on") || !strings.Contains(w, "each snub of 5 mph adds about 8 °F, one every 4 s") {
		t.Errorf("%s", w)
	}
}

// 1 mi is 1,609.344 m.
func TestStations(t *testing.T) {
	if got := US.Station(4724); got != "2.94 mi" {
		t.Errorf("%s", got)
	}
	if got := Metric.Station(4723.6); got != "4724 m" {
		t.Errorf("%s", got)
	}
	l := SpeedCeiling{LengthM: 149.2, Note: "radius 149 m: side friction"}
	if got := l.NoteIn(US); got != "radius 489 ft: side friction" {
		t.Errorf("%s", got)
	}
}
