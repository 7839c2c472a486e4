package vehicle

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

// What road signs limit comes from the class file, in both unit systems; it chooses roads
// and leaves the advice, and so the fingerprint, alone.
func TestSignLimitsOfAClass(t *testing.T) {
	parse := func(text string) Class {
		t.Helper()
		list, _, err := ParseClasses("limits", strings.NewReader(text))
		if err != nil {
			t.Fatal(err)
		}
		return list[0]
	}
	template := Template(catalog.Metric)
	c := parse(template)
	if c.HeightM != 4.1148 || c.LengthM != 22.86 || c.AxleLoadKg != 7711 || c.IsHazmat || c.Truck.EnginePowerW != 298_280 {
		t.Errorf("%v m high, %v m long, %v kg an axle, hazmat %v, %v W", c.HeightM, c.LengthM, c.AxleLoadKg, c.IsHazmat, c.Truck.EnginePowerW)
	}
	var bare []string
	for _, line := range strings.Split(template, "\n") {
		switch key, _, _ := strings.Cut(line, " "); key {
		case "height_m", "length_m", "axle_load_kg", "engine_power_w":
		default:
			bare = append(bare, line)
		}
	}
	b := parse(strings.Join(bare, "\n"))
	// The tandems carry 15,422 kg on two axles; 5 kW/t of 36,287.39 kg.
	if b.HeightM != 0 || b.LengthM != 0 || b.AxleLoadKg != 7711 {
		t.Errorf("left out: %v m, %v m, %v kg", b.HeightM, b.LengthM, b.AxleLoadKg)
	}
	near(t, "power left out", b.Truck.EnginePowerW, 181_437, 1)
	if b.Fingerprint() != c.Fingerprint() {
		t.Error("what chooses roads puts advice in question")
	}
	if h := parse(strings.Replace(template, "# hazmat = true", "hazmat = true", 1)); !h.IsHazmat {
		t.Error("hazmat is not read")
	}
	for from, to := range map[string]string{"height_m = 4.1148": "height_m = 41", "length_m = 22.86": "length_m = 2", "axle_load_kg = 7711": "axle_load_kg = 77110", "engine_power_w = 298280": "engine_power_w = 300"} {
		if _, _, err := ParseClasses("limits", strings.NewReader(strings.Replace(template, from, to, 1))); err == nil || !strings.Contains(err.Error(), strings.Fields(to)[0]) {
			t.Errorf("%s: %v", to, err)
		}
	}
}
