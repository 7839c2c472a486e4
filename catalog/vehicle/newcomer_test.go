package vehicle

import (
	"strings"
	"testing"
)

// What people write who describe their first truck from a data sheet, and what they are told.
func TestFaultsOfAFirstTruck(t *testing.T) {
	const ratios = "gear_ratios = [12.80, 9.25, 6.76, 4.90, 3.58, 2.61, 1.89, 1.38, 1.00, 0.73] # first gear first\ngear_names = [\"1\", \"2\", \"3\", \"4\", \"5\", \"6\", \"7\", \"8\", \"9\", \"10\"] # as on the lever or display; may be left out\nfinal_drive = 3.55"
	for _, c := range []struct{ old, new, want string }{
		{"tyre_revs_per_mi = 512", "tyre_revs_per_mile = 512", `"class.truck.tyre_revs_per_mile" is not a key of a class file (did you mean "tyre_revs_per_mi"?`},
		{"tyre_revs_per_mi = 512", "tyre_revs_per_mile = 512", "the tyre is not given; give one of"},
		{"tyre_revs_per_mi = 512", "tyre_revs_per_mi = 512\ntyre_revs_per_km = 318", "the tyre is given more than once; give one of"},
		{`kind = "engine"`, `kind = "compression"`, `"compression" is not a kind of retarder; use "engine" (compression or exhaust brake), "driveline" (hydraulic`},
		{"stage_share_pct = [33, 67, 100]", "stage_share = [33, 67, 100]", `did you mean "stage_share_pct"?`},
		{"final_drive = 3.55", "final_driv = 3.55", `did you mean "final_drive"?`},
		{"mass_max_kg = 36287.39", "mass_max_t = 36.3", `did you mean "mass_max_kg"?`},
		{"final_drive = 3.55", "colour = 1", `"class.truck.colour" is not a key of a class file; see`},
		{ratios, "gear_ratios = [1.0]\nfinal_drive = 23", "23 is more than an axle has; give the axle's own ratio and put the rest into gear_ratios"},
		{"final_drive = 3.55", "final_drive = 23", "23 is impossible; give a figure between 1 and 15"},
	} {
		_, _, err := ParseClasses("trucks.toml", strings.NewReader(edit(t, c.old, c.new)))
		var all strings.Builder
		if faults, isFaults := err.(Faults); isFaults {
			for _, f := range faults {
				all.WriteString(f.Error() + "\n")
			}
		}
		if !strings.Contains(all.String(), c.want) {
			t.Errorf("%s: want %q in\n%s", c.new, c.want, all.String())
		}
	}
}

// A default is printed as people write it.
func TestDefaultsArePrintedWithoutExponents(t *testing.T) {
	classes, _, err := ParseClasses("trucks.toml", strings.NewReader(edit(t, "engine_power_w = 298280", "# no power")))
	if err != nil || len(classes[0].Defaults) != 1 || !strings.HasPrefix(classes[0].Defaults[0].String(), "truck.engine_power_w = 181437 W (") {
		t.Errorf("%v %v", err, classes)
	}
}

// A gear's name is what can be read on a lever: no invisible character, and nothing empty.
func TestGearNamesAreReadable(t *testing.T) {
	for name, isName := range map[string]bool{
		"5L": true, "Lo 2": true, "§": true, "山": true, "": false, " ": false, "5 ": false, `\n`: false, `2\u0000`: false, `\u202e2`: false, `\u200b`: false, "1234567890123": false,
	} {
		_, _, err := ParseClasses("trucks.toml", strings.NewReader(edit(t, `gear_names = ["1",`, `gear_names = ["`+name+`",`)))
		if (err == nil) != isName {
			t.Errorf("%q: %v", name, err)
		}
	}
}
