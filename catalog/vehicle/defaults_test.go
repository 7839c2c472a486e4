package vehicle

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// What stands in where a class file says nothing: each at its unsafe end, as the answers
// print it. Sources stand beside the constants.
func TestDefaultsAreTheUnsafeEnds(t *testing.T) {
	var keep []string
	for _, line := range strings.Split(Template(catalog.Metric), "\n") {
		drop := false
		for _, key := range []string{"units", "speed_max_mps", "rollover_share", "gear_names", "driveline_efficiency", "rolling_resistance", "drag_area_m2",
			"reserve_pct", "altitude_full_m", "altitude_loss_pct_per_km", "empty_kg", "strongest_pct", "kind = \"drum\"", "chamber", "adjusted_stroke_m", "drum_diameter_m", "drum_mass_kg", "poor_lining"} {
			drop = drop || strings.HasPrefix(line, key)
		}
		if !drop {
			keep = append(keep, line)
		}
	}
	classes, defaults, err := ParseClasses("bare", strings.NewReader(strings.Join(keep, "\n")))
	if err != nil {
		t.Fatal(err)
	}
	c := classes[0]
	k := c.Truck
	for _, x := range []struct {
		what      string
		got, want float64
	}{
		{"speed, m/s (Directive 92/6/EEC: 90 km/h)", c.SpeedMaxMPS, 25},
		{"rollover threshold", c.RolloverShare, 0.35},
		{"driveline efficiency", k.DrivelineEfficiency, 1},
		{"rolling resistance (NRC 2010, table G-1)", k.RollingResistance, 0.0053},
		{"drag area, m²", k.DragAreaM2, 5},
		{"reserve, %", k.ReservePct, 15},
		{"full power up to, m", k.AltitudeFullM, 1500},
		{"loss above, %/km (3 % for each 1,000 ft)", k.AltitudeLossPctPerKM, 9.8425},
		{"strongest brake, % (31 over 27 kW/L)", k.Retarders[0].StrongestPct, 115},
		{"stroke, m (2 in)", k.ServiceBrakes.AdjustedStrokeM, 0.0508},
		{"drum, m (16.5 in)", k.ServiceBrakes.DrumDiameterM, 0.4191},
		{"drum, kg", k.ServiceBrakes.DrumMassKg, 45},
		// Three quarters of 15,422/36,287 on the driven axles of the empty 15 t.
		{"empty load on the driven axles, kg", k.Axles[1].EmptyKg, 0.75 * 15422.0 / 36287 * 15000},
	} {
		if math.Abs(x.got-x.want) > 0.001*x.want {
			t.Errorf("%s: %g, want %g", x.what, x.got, x.want)
		}
	}
	if !k.ServiceBrakes.PoorLining || k.ServiceBrakes.IsDisc() || len(defaults) < 15 {
		t.Errorf("%+v, %d defaults", k.ServiceBrakes, len(defaults))
	}
}
