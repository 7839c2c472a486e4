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

// faultsOf are the faults of a class file, each on its line.
func faultsOf(t *testing.T, text string) []string {
	t.Helper()
	_, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
	faults, _ := err.(Faults)
	var out []string
	for _, f := range faults {
		out = append(out, f.Error())
	}
	return out
}

// What six trucks written from pages of figures were refused for (trial of a newcomer): each fault
// says what to write, and none speaks of what follows from another.
func TestAFaultSaysWhatToWrite(t *testing.T) {
	const ratios = "gear_ratios = [12.80, 9.25, 6.76, 4.90, 3.58, 2.61, 1.89, 1.38, 1.00, 0.73]"
	for _, c := range []struct{ old, new, want string }{
		{"final_drive = 3.55", `final_drive = "3.55:1"`, "write final_drive = 3.55"},
		{"final_drive = 3.55", "final_drive = 3,55", "write decimals with a point"},
		{"final_drive = 3.55", "final_drive = 3.55\nfinal_drive = 3.7", "keep one of the two"},
		{ratios, `gear_ratios = "12.80 - 0.73"`, "write gear_ratios = [figure, figure]"},
		{ratios, "gear_ratios = [12,80, 9,25]", "with points for decimals"},
		{"rollover_share = 0.35", "rollover_share = 35", "it is a share: 35 % is 0.35"},
		{"rollover_share = 0.35", `rollover_share = "0.35 g"`, "write rollover_share = 0.35"},
		{"driveline_efficiency = 0.95", "driveline_efficiency = 95", "it is a share: 95 % is 0.95"},
		{"reserve_pct = 15", "reserve_pct = 0.15", "it is in per cent: for a share of 0.15 give 15"},
		{"stage_share_pct = [33, 67, 100]", "stage_share_pct = [0.33, 0.67, 1]", "they are in per cent"},
		{"# part_full_tank = true", `part_full_tank = "yes"`, "write part_full_tank = true or part_full_tank = false"},
		{`legal = { source = "80,000 lb, 23 U.S.C. 127", status = "published" }`, `legal = "80,000 lb"`, "write legal = { source ="},
		{"mass_max_kg = 36287.39", "mass_max = 80000", "write a quantity with its unit"},
		{"mass_max_kg = 36287.39", `mass_max_kg = "80000 lb"`, "the quantity with its unit as mass_max"},
		{"mass_min_kg = 15000", `mass_min = "14,8 t"`, "write decimals with a point, as in 14.8 t"},
		{"tyre_revs_per_mi = 512", "tire_revs_per_mi = 512", `did you mean "tyre_revs_per_mi"?`},
		{"tyre_revs_per_mi = 512", "tyre_revs_per_mi = 318", "give a figure between 321 and 1024, or say tyre_revs_per_km"},
		{"stage_share_pct = [33, 67, 100]", "stages = 3", `did you mean "stage_share_pct"?`},
		{"final_drive = 3.55", "rear_axle_ratio = 3.55", `did you mean "final_drive"?`},
		{`chamber = "30"`, "chamber = 30", `write chamber = "30"`},
		{"power_w_by_rpm = [[1100, 113000]", "power_hp = 500 # [[1100, 113000]", `did you mean "power_hp_by_rpm"?`},
		{"axles = 1", `axles = "one"`, "write axles = a number"},
	} {
		all := strings.Join(faultsOf(t, edit(t, c.old, c.new)), "\n")
		if !strings.Contains(all, c.want) {
			t.Errorf("%s: want %q in\n%s", c.new, c.want, all)
		}
	}
}

func TestNoFaultFollowsFromAnother(t *testing.T) {
	for _, c := range []struct {
		old, new string
		want     int
	}{
		{"mass_min_kg = 15000", `mass_min = "15000"`, 1},
		{"mass_min_kg = 15000", "", 1},
		{"load_kg = 5443", "", 1},
		{`kind = "engine"`, `kind = "regen"`, 1},
		{"stage_share_pct = [33, 67, 100]", "stage_share_pct = [0.33, 0.67, 1]", 1},
		{"tyre_revs_per_mi = 512", "tyre_revs_per_mi = 51.2", 1},
	} {
		if faults := faultsOf(t, edit(t, c.old, c.new)); len(faults) != c.want {
			t.Errorf("%q: %d faults\n%s", c.new, len(faults), strings.Join(faults, "\n"))
		}
	}
	head, rest, _ := strings.Cut(edit(t, "final_drive = 3.55", "final_drive = 3.55\nengine_displacement = \"6.4 barrels\""), "\n[[class.truck.retarder]]")
	_, brakes, _ := strings.Cut(rest, "\n[class.truck.service_brakes]")
	for _, size := range []string{"6.4 barrels", "6400 l"} {
		bare := strings.Replace(head+"\n[class.truck.service_brakes]"+brakes, "6.4 barrels", size, 1)
		if faults := faultsOf(t, bare); len(faults) != 1 || !strings.Contains(faults[0], "engine_displacement") {
			t.Errorf("%s: %v", size, faults)
		}
	}
}

// Values of the wrong kind are all named at once, with what else is wrong in the keys.
func TestAllValuesOfTheWrongKindAreNamed(t *testing.T) {
	text := strings.NewReplacer("final_drive = 3.55", `final_drive = "3.55"`, "engine_rpm_max = 2100", `engine_rpm_max = "2100"`, "reserve_pct = 15", "reserve = 15").Replace(Template(0))
	if faults := faultsOf(t, text); len(faults) != 3 || !strings.Contains(faults[2], "reserve") {
		t.Errorf("%d faults\n%s", len(faults), strings.Join(faults, "\n"))
	}
}

// Files as editors of other systems save them.
func TestFilesOfOtherEditors(t *testing.T) {
	for _, text := range []string{"\ufeff" + Template(0), strings.ReplaceAll(Template(0), "\n", "\r\n")} {
		if faults := faultsOf(t, text); len(faults) > 0 {
			t.Errorf("%v", faults)
		}
	}
	for _, text := range []string{"\xff\xfe[\x00[\x00", "id = \"M\xfcller\"", "\x7fELF\x02\x00"} {
		if faults := faultsOf(t, text); len(faults) != 1 || !strings.Contains(faults[0], "UTF-8") {
			t.Errorf("%q: %v", text, faults)
		}
	}
}

// A charge of 0.6 per cent is an empty battery, on which every hill would be held; the torque at the
// wheels that data sheets of electric axles give (23,000 lb-ft: trade press on a tractor of two, published)
// is no motor's.
func TestSharesAndWheelTorquesOfElectricTrucks(t *testing.T) {
	text := edit(t, `[[class.truck.retarder]]
kind = "engine"
name = "compression brake"
power_w_by_rpm = [[1100, 113000], [1300, 151500], [1500, 194500], [1700, 242000], [1900, 294500], [2100, 351000]]
stage_share_pct = [33, 67, 100]         # of the lever, weakest first
strongest_pct = 115                     # the strongest fitted in this class over the curve: it locks wheels first; may be left out
`, `[[class.truck.retarder]]
kind = "recuperation"
torque_limit = "939 lb-ft"
sustained_power = "350 kW"
battery = "438 kWh"
charge_at_crest_pct = 60
`)
	text = strings.Replace(strings.Replace(text, "final_drive = 3.55", "final_drive = 1", 1), "gear_ratios = [12.80, 9.25, 6.76, 4.90, 3.58, 2.61, 1.89, 1.38, 1.00, 0.73]", "gear_ratios = [24.5]", 1)
	text = strings.Replace(text, `gear_names = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10"]`, "", 1)
	if faults := faultsOf(t, text); len(faults) > 0 {
		t.Fatal(faults)
	}
	for old, want := range map[string]string{
		"charge_at_crest_pct = 60|charge_at_crest_pct = 0.6": "for a share of 0.6 give 60",
		`"939 lb-ft"|"11500 lb-ft"`:                          "divide it by the gears of the gear that it is for: 469.4 lb-ft in top gear",
	} {
		before, after, _ := strings.Cut(old, "|")
		if faults := faultsOf(t, strings.Replace(text, before, after, 1)); len(faults) != 1 || !strings.Contains(faults[0], want) {
			t.Errorf("%s: %v", after, faults)
		}
	}
}
