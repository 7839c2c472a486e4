package holding

import (
	"testing"

	"gradeline/catalog/vehicle"
)

// mustClass is a default class by id.
func mustClass(t testing.TB, id string) vehicle.Class {
	t.Helper()
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range classes {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no class %q", id)
	return vehicle.Class{}
}

// Every default class says where each figure comes from and leaves nothing out.
func TestDefaultClassesCarrySources(t *testing.T) {
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	if len(classes) < 8 {
		t.Fatalf("%d classes", len(classes))
	}
	for _, c := range classes {
		if len(c.Defaults) > 0 {
			t.Errorf("%s leaves out %v", c.ID, c.Defaults)
		}
		for _, figure := range []string{"gear_ratios", "rolling_resistance", "drag_area_m2", "retarder.engine", "driveline_efficiency", "service_brakes", "altitude_loss_pct_per_km", "rollover_share", "engine_rpm_max", "speed_max_mps"} {
			found := false
			for _, s := range c.Sources {
				found = found || s.Figure == figure
			}
			if !found {
				t.Errorf("%s: no source for %s", c.ID, figure)
			}
		}
	}
}
