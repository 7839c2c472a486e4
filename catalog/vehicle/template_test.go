package vehicle

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

func TestTemplateParses(t *testing.T) {
	classes, defaults, err := ParseClasses("template", strings.NewReader(Template(catalog.Metric)))
	if err != nil {
		t.Fatal(err)
	}
	if len(classes) != 1 || len(defaults) != 0 {
		t.Errorf("%d classes, %d defaults; want one class with every figure given: %v", len(classes), len(defaults), defaults)
	}
}

// The lines that the template offers in comments parse as well.
func TestTemplateAlternativesParse(t *testing.T) {
	const curve = "power_w_by_rpm = [[1100, 113000], [1300, 151500], [1500, 194500], [1700, 242000], [1900, 294500], [2100, 351000]]\nstage_share_pct = [33, 67, 100]"
	text := strings.NewReplacer(
		"# [[class.truck.retarder]]", "[[class.truck.retarder]]", `# kind = "`, `kind = "`,
		"# torque_limit_nm", "torque_limit_nm", "# sustained_power_w", "sustained_power_w",
		"# cooling_temp_c", "cooling_temp_c", "# stage_share_pct", "stage_share_pct",
		"# battery_wh", "battery_wh", "# charge_", "charge_", "# part_full", "part_full", "# surge_share", "surge_share",
		"brakes = 4 ", "retarded = true #",
		curve, "", "# stages_power_w_by_rpm", "stages_power_w_by_rpm",
		"tyre_revs_per_mi = 512", "", "# tyre_size", "tyre_size",
	).Replace(Template(catalog.Metric))
	classes, _, err := ParseClasses("template", strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	k := classes[0].Truck
	if len(k.Retarders) != 4 || k.StageCount() != 2+4+1+1 || len(k.Retarders[0].Stages) != 2 {
		t.Errorf("%d retarders, %d stages", len(k.Retarders), k.StageCount())
	}
	near(t, "radius from the size", k.RollingRadiusM, 0.4923, 0.0005)
}
