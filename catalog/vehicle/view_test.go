package vehicle

import (
	"encoding/json"
	"strings"
	"testing"

	"gradeline/catalog"
)

// The keys that scripts rely on.
func TestViewHasTheKeysThatStay(t *testing.T) {
	text := strings.Replace(Template(catalog.Metric), "# [[class.truck.retarder]]\n# kind = \"driveline\"\n# torque_limit_nm = 3000\n# sustained_power_w = 200000            # what",
		"[[class.truck.retarder]]\nkind = \"driveline\"\ntorque_limit_nm = 3000\nsustained_power_w = 200000\ncooling_temp_c = 40\nstage_share_pct = [50, 100] # what", 1)
	classes, _, err := ParseClasses("x", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := json.Marshal(classes[0].View())
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"id", "mass_min_kg", "mass_max_kg", "gear_ratios", "final_drive", "rolling_radius_m", "driveline_efficiency",
		"engine_rpm_min", "engine_rpm_max", "rolling_resistance", "drag_area_m2", "reserve_pct", "retarders", "sources"} {
		if _, ok := got[key]; !ok {
			t.Errorf("no key %q", key)
		}
	}
	retarders := got["retarders"].([]any)
	if len(retarders) != 2 {
		t.Fatalf("%d retarders", len(retarders))
	}
	engine, driveline := retarders[0].(map[string]any), retarders[1].(map[string]any)
	if p := engine["power_w_by_rpm"].([]any); engine["kind"] != "engine" || len(p) != 6 || p[5].([]any)[0] != 2100.0 || p[5].([]any)[1] != 351000.0 {
		t.Errorf("engine: %v", engine)
	}
	if driveline["kind"] != "driveline" || driveline["torque_limit_nm"] != 3000.0 || driveline["sustained_power_w"] != 200000.0 {
		t.Errorf("driveline: %v", driveline)
	}
	if _, ok := driveline["power_w_by_rpm"]; ok {
		t.Error("a driveline retarder with a curve")
	}
}

// Stages: the engine brake's first, then the driveline retarder's on top.
func TestStagesAreInOrder(t *testing.T) {
	curve := Curve{{1000, 100e3}, {2100, 300e3}}
	k := Truck{GearRatios: []float64{4, 2}, FinalDrive: 3, RollingRadiusM: 0.5, DrivelineEfficiency: 0.9, EngineMinRPM: 1000, EngineMaxRPM: 2100,
		Retarders: []Retarder{{Kind: EngineRetarder, Stages: []Curve{curve.Scaled(0.5), curve}},
			{Kind: DrivelineRetarder, TorqueLimitNm: 1000, SustainedPowerW: 60e3, CoolingTempC: 40, StageSharePct: []float64{50, 100}}}}
	v := k.SpeedFromRPM(2, 2100)
	if k.StageCount() != 4 {
		t.Fatalf("%d stages", k.StageCount())
	}
	// Engine 300 kW and half of its 10 % loss: 315 kW; driveline by torque:
	// 1,000 Nm at the shaft's 1,050 rpm is 110 kW, over its sustained 60 kW.
	want := []float64{0, 157.5e3, 315e3, 315e3 + 54.978e3, 315e3 + 60e3}
	for s, w := range want {
		near(t, "stage", k.WheelPower(s, 2, v, Air{}).AtW(1), w, 1)
	}
	if !k.TopWheelPower(2, v, Air{}).SustainedBound {
		t.Error("the cooling bound isn't told")
	}
	hot := 70.0
	near(t, "hot air", k.TopWheelPower(2, v, AirAt(0, &hot)).DrivelineW, 30e3*313.15/343.15, 1)
	if w := k.TopWheelPower(2, v*1.01, Air{}); w.AtW(1) != 0 {
		t.Errorf("%v W beyond the governed speed", w)
	}
	if w := k.TopWheelPower(3, v, Air{}); w.AtW(1) != 0 {
		t.Error("a gear that isn't there retards")
	}
}
