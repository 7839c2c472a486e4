package vehicle

import (
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gradeline/catalog"
)

// edit is the template with one piece of text replaced; the piece must be there.
func edit(t testing.TB, old, new string) string {
	t.Helper()
	if !strings.Contains(Template(catalog.Metric), old) {
		t.Fatalf("the template has no %q", old)
	}
	return strings.Replace(Template(catalog.Metric), old, new, 1)
}

func lineOf(text, piece string) int {
	return 1 + strings.Count(text[:strings.Index(text, piece)], "\n")
}

// Each impossible figure is refused with the line that it stands on and why.
func TestImpossibleFiguresAreRefusedWithTheirLine(t *testing.T) {
	const curve = "power_w_by_rpm = [[1100, 113000], [1300, 151500], [1500, 194500], [1700, 242000], [1900, 294500], [2100, 351000]]"
	for _, c := range []struct{ name, old, new, at, want string }{
		{"unknown key", "final_drive = 3.55", "final_drive = 3.55\nfinal_driv = 3.7", "final_driv = 3.7", "is not a key"},
		{"wrong type", "final_drive = 3.55", `final_drive = "3.55"`, `final_drive = "3.55"`, "final_drive"},
		{"rising ratios", "1.89, 1.38", "1.38, 1.89", "gear_ratios", "gear 8: 1.89 is not below gear 7's 1.38"},
		{"zero ratio", "0.73]", "0]", "gear_ratios", "not a possible ratio of a truck's gearbox"},
		{"negative ratio", "[12.80", "[-12.80", "gear_ratios", "not a possible ratio"},
		{"no gears", "[12.80, 9.25, 6.76, 4.90, 3.58, 2.61, 1.89, 1.38, 1.00, 0.73]", "[]", "gear_ratios", "0 gears"},
		{"curve falls to zero", "[2100, 351000]]", "[2100, 0]]", "power_w_by_rpm = [[", "falls to zero"},
		{"curve too short", curve, "power_w_by_rpm = [[1300, 113000], [2100, 351000]]", "power_w_by_rpm = [[", "retards from 1100"},
		{"curve not sorted", "[1300, 151500], [1500, 194500]", "[1500, 194500], [1300, 151500]", "power_w_by_rpm = [[", "don't rise"},
		{"curve of triples", "[1300, 151500]", "[1300, 151500, 1]", "power_w_by_rpm = [[", "3 figures"},
		{"kilowatts", curve, "power_w_by_rpm = [[1100, 113], [2100, 351]]", "power_w_by_rpm = [[", "113 W"},
		{"no curve", curve + "\n", "", "[[class.truck.retarder]]\nkind", "is missing"},
		{"empty axle group", "axles = 2\nload_kg = 15422\nempty_kg = 5900\ndriven", "axles = 0\nload_kg = 15422\nempty_kg = 5900\ndriven", "axles = 0", "0 axles"},
		{"unloaded axle group", "load_kg = 5443", "load_kg = 0", "load_kg = 0", "empty or impossible axle group"},
		{"loads don't add up", "load_kg = 5443", "load_kg = 7443", "[class.truck]", "the groups carry 38287 kg"},
		{"nothing driven", "driven = true ", "driven = false", "[class.truck]", "no group is driven"},
		{"trailer retarded", "brakes = 4 ", "retarded = true", "retarded = true", "isn't driven"},
		{"mass upside down", "mass_min_kg = 15000", "mass_min_kg = 45000", "mass_min_kg", "not between"},
		{"missing mass", "mass_max_kg = 36287.39 ", "# gone", "[[class]]\nid", "is missing"},
		{"no legal source", `legal = { source = "80,000 lb, 23 U.S.C. 127", status = "published" }`, "", "[[class]]\nid", "is missing"},
		{"made-up status", `status = "published" }`, `status = "trust me" }`, "legal", "is not a status"},
		{"two tyres", "# rolling_radius_m = 0.500", "rolling_radius_m = 0.500", "rolling_radius_m = 0.500", "given more than once"},
		{"tyre without a height", "tyre_revs_per_mi = 512 ", `tyre_size = "11R22.5" `, "tyre_size", "tyre_revs_per_mi or tyre_revs_per_km"},
		{"odd tyre", "tyre_revs_per_mi = 512 ", `tyre_size = "round" `, "tyre_size", "not a metric tyre size"},
		{"band upside down", "engine_rpm_min = 1100", "engine_rpm_min = 2200", "engine_rpm_max", "not above"},
		{"reserve of nothing", "reserve_pct = 15", "reserve_pct = 0", "reserve_pct", "impossible"},
		{"efficiency over one", "driveline_efficiency = 0.95", "driveline_efficiency = 1.05", "driveline_efficiency", "impossible"},
		{"unknown kind", `kind = "engine"`, `kind = "parachute"`, `kind = "parachute"`, "not a kind of retarder"},
		{"unknown chamber", `chamber = "30"`, `chamber = "31"`, `chamber = "31"`, "not a known chamber"},
		{"stages fall", "[33, 67, 100]", "[67, 33, 100]", "stage_share_pct", "must rise"},
		{"stages end low", "[33, 67, 100]", "[33, 67]", "stage_share_pct", "must rise"},
		{"bad id", `id = "our-5axle"`, `id = "Our 5 axle"`, `id = "Our`, "is not an id"},
		{"broken TOML", "[class.truck]", "[class.truck", "[class.truck", "correct the TOML"},
		{"infinite", "final_drive = 3.55", "final_drive = inf", "final_drive", "impossible"},
		{"not a number", "final_drive = 3.55", "final_drive = nan", "final_drive", "impossible"},
		{"half the axles roll", "# rolling_resistance = 0.0053 ", "rolling_resistance = 0.0053 #", "[class.truck]", "some groups give"},
	} {
		text := edit(t, c.old, c.new)
		classes, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
		var faults Faults
		if !errors.As(err, &faults) || classes != nil {
			t.Errorf("%s: %v, %d classes", c.name, err, len(classes))
			continue
		}
		line := "line " + itoa(lineOf(text, c.at))
		found := false
		for _, f := range faults {
			found = found || f.Feature == line && strings.Contains(f.Error(), c.want) && f.File == "trucks.toml" && f.Fix != ""
		}
		if !found {
			t.Errorf("%s: want %s and %q in\n%v", c.name, line, c.want, faults.Unwrap())
		}
		if !errors.Is(err, catalog.ErrClass) {
			t.Errorf("%s: not a class fault", c.name)
		}
		if strings.Contains(faults.Error(), "\n") {
			t.Errorf("%s: more than one line: %q", c.name, faults.Error())
		}
	}
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + string(rune('0'+n%10))
}

// Every fault is told, not only the first, in the order of the lines.
func TestAllFaultsAreTold(t *testing.T) {
	text := strings.NewReplacer("final_drive = 3.55", "final_drive = 99", "load_kg = 5443", "load_kg = -1",
		"adjusted_stroke_m = 0.0508", "adjusted_stroke_m = 2").Replace(Template(catalog.Metric))
	_, _, err := ParseClasses("x", strings.NewReader(text))
	var faults Faults
	if !errors.As(err, &faults) || len(faults) < 4 {
		t.Fatalf("%v", err)
	}
	if !strings.Contains(err.Error(), "more)") {
		t.Errorf("the summary hides that there are more: %v", err)
	}
	last := 0
	for _, f := range faults {
		n := 0
		for _, r := range strings.TrimPrefix(f.Feature, "line ") {
			n = 10*n + int(r-'0')
		}
		if n < last {
			t.Errorf("line %d after line %d", n, last)
		}
		last = n
	}
}

// Two classes with one id, and a second class's faults on its own lines.
func TestSecondClass(t *testing.T) {
	_, _, err := ParseClasses("x", strings.NewReader(Template(catalog.Metric)+"\n"+Template(catalog.Metric)))
	if err == nil || !strings.Contains(err.Error(), "used twice") {
		t.Errorf("twice the same id: %v", err)
	}
	second := strings.Replace(strings.Replace(Template(catalog.Metric), "our-5axle", "other", 1), "load_kg = 5443", "load_kg = 0", 1)
	text := Template(catalog.Metric) + "\n" + second
	_, _, err = ParseClasses("x", strings.NewReader(text))
	want := "line " + itoa(lineOf(text, "load_kg = 0"))
	var faults Faults
	if !errors.As(err, &faults) || !slices.ContainsFunc(faults, func(f *catalog.Fault) bool { return f.Feature == want }) {
		t.Errorf("want %s: %v", want, faults.Unwrap())
	}
}

// A figure left out is replaced by its default, and the default is told.
func TestDefaultsAreTold(t *testing.T) {
	for _, key := range []string{"rolling_resistance = 0.0053 ", "drag_area_m2 = 5.0", "reserve_pct = 15", "driveline_efficiency = 0.95",
		"altitude_full_m = 1500", "altitude_loss_pct_per_km = 9.84", "rollover_share = 0.35", "speed_max_mps = 29.0576", `chamber = "30" `,
		"adjusted_stroke_m = 0.0508", "drum_diameter_m = 0.4191", "drum_mass_kg = 45", "poor_lining = true", "stage_share_pct = [33, 67, 100]"} {
		text := edit(t, key, "# "+key)
		classes, defaults, err := ParseClasses("x", strings.NewReader(text))
		if err != nil {
			t.Errorf("without %s: %v", key, err)
			continue
		}
		name, _, _ := strings.Cut(key, " ")
		if len(defaults) != 1 || !strings.HasSuffix(defaults[0].Figure, name) || len(classes[0].Defaults) != 1 || defaults[0].Source == "" || defaults[0].Status == "" {
			t.Errorf("without %s: defaults %+v", key, defaults)
		}
	}
}

func TestHostileFiles(t *testing.T) {
	for name, text := range map[string]string{
		"empty":     "",
		"too long":  strings.Repeat("#", mostBytes+10),
		"many":      strings.Repeat("[[class]]\n", mostClasses+1),
		"deep":      strings.Repeat("[", 5000),
		"no class":  "x = 1",
		"class int": "class = 3",
		"binary":    "\x00\xff\xfe",
	} {
		if classes, _, err := ParseClasses(name, strings.NewReader(text)); err == nil || classes != nil {
			t.Errorf("%s was read: %d classes", name, len(classes))
		}
	}
}

func FuzzParseClasses(f *testing.F) {
	f.Add(Template(catalog.Metric))
	if raw, err := os.ReadFile(filepath.Join("..", "..", "data", "classes", "default.toml")); err == nil {
		f.Add(string(raw))
	} else {
		f.Fatal(err)
	}
	f.Add("[[class]]\nid='a'\n[class.truck]\ngear_ratios=[1]\n[[class.truck.axle]]\n[[class.truck.axle]]\nload_kg=nan")
	f.Add("[[class]]\n[class.truck.service_brakes]\nchamber=''\n[[class]]\n[[class.source]]\n")
	f.Fuzz(func(t *testing.T, text string) {
		classes, defaults, err := ParseClasses("fuzz", strings.NewReader(text))
		if err != nil {
			if classes != nil || defaults != nil {
				t.Fatal("classes beside an error")
			}
			var faults Faults
			if errors.As(err, &faults) && (len(faults) == 0 || len(faults) > mostFaults || faults.Error() == "") {
				t.Fatalf("%d faults", len(faults))
			}
			return
		}
		for _, c := range classes {
			if err := c.Validate(); err != nil {
				t.Fatalf("accepted and then refused: %v", err)
			}
			v := c.View()
			if v.ID == "" || len(v.GearRatios) == 0 || len(v.Retarders) == 0 {
				t.Fatalf("an empty class: %+v", v)
			}
			for g := range c.Truck.GearRatios {
				for _, rpm := range []float64{c.Truck.EngineMinRPM, c.Truck.EngineMaxRPM} {
					if w := c.Truck.TopWheelPower(g+1, c.Truck.SpeedFromRPM(g+1, rpm), Air{}); !(w.AtW(1) > 0) {
						t.Fatalf("gear %d at %g rpm retards with %v W", g+1, rpm, w)
					}
				}
			}
		}
	})
}

func FuzzParseGradeSeverity(f *testing.F) {
	raw, err := os.ReadFile(filepath.Join("..", "..", "data", "classes", "heat", "grade-severity.toml"))
	if err != nil {
		f.Fatal(err)
	}
	f.Add(string(raw))
	f.Add("k1_base_per_h = nan\nsource = 1")
	f.Fuzz(func(t *testing.T, text string) {
		g, err := ParseGradeSeverity("fuzz", strings.NewReader(text))
		if err != nil {
			var fault *catalog.Fault
			if !errors.As(err, &fault) || g != (GradeSeverity{}) {
				t.Fatalf("%v beside %+v", err, g)
			}
			return
		}
		if !(g.LimitTempF > 0) || g.Brakes < 1 || g.Source == "" {
			t.Fatalf("accepted: %+v", g)
		}
	})
}
