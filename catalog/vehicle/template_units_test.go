package vehicle

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"gradeline/catalog"
)

// The template in pounds, inches and horsepower describes the same truck as the one in SI.
func TestTemplatesOfBothUnitSystemsAreOneTruck(t *testing.T) {
	var trucks []Class
	for _, u := range []catalog.Units{catalog.Metric, catalog.US} {
		classes, defaults, err := ParseClasses("template", strings.NewReader(Template(u)))
		if err != nil || len(classes) != 1 || len(defaults) != 0 {
			t.Fatalf("%v: %d classes, %v, %v", u, len(classes), defaults, err)
		}
		trucks = append(trucks, classes[0])
	}
	figures := 0
	var compare func(path string, a, b reflect.Value)
	compare = func(path string, a, b reflect.Value) {
		switch a.Kind() {
		case reflect.Float64:
			figures++
			if x, y := a.Float(), b.Float(); math.Abs(x-y) > 0.004*math.Abs(x) {
				t.Errorf("%s: %g and %g", path, x, y)
			}
		case reflect.Struct:
			for i := range a.NumField() {
				compare(path+"."+a.Type().Field(i).Name, a.Field(i), b.Field(i))
			}
		case reflect.Slice:
			if a.Len() != b.Len() {
				t.Errorf("%s: %d and %d", path, a.Len(), b.Len())
				return
			}
			for i := range a.Len() {
				compare(path, a.Index(i), b.Index(i))
			}
		}
	}
	trucks[0].Sources, trucks[1].Sources = nil, nil
	compare("class", reflect.ValueOf(trucks[0]), reflect.ValueOf(trucks[1]))
	if figures < 60 {
		t.Errorf("only %d figures compared", figures)
	}
}

// A fault names the key that was written, quotes it, and gives its bounds in its unit.
func TestFaultsSpeakOfTheKeyThatWasWritten(t *testing.T) {
	for _, c := range []struct{ name, old, new, at, want string }{
		{"bare number", `mass_max = "80000 lb"`, `mass_max = "80000"`, "mass_max = \"80", `our-5axle mass_max: "80000": mass without a unit; add the unit: 80000kg or 80000lb or 80000t`},
		{"three meanings", `mass_max = "80000 lb"`, `mass_max = "40 tons"`, "mass_max = \"40", "ton has three meanings"},
		{"no such unit", `drum_diameter = "16.5 in"`, `drum_diameter = "16.5 inch"`, "drum_diameter", `truck.service_brakes.drum_diameter: "16.5 inch": not a valid length`},
		{"too heavy", `mass_max = "80000 lb"`, `mass_max = "800000 lb"`, "mass_max = \"80", `our-5axle mass_max = "800000 lb": 800,000 lb is not a possible mass of a road truck; give at most 440,925 lb`},
		{"too light", `mass_min = "33069 lb"`, `mass_min = "90000 lb"`, "mass_min", `mass_min = "90000 lb": 90,000 lb is not between 2,205 lb and the upper mass`},
		{"twice", `mass_max = "80000 lb" `, "mass_max_kg = 36287\nmass_max = \"80000 lb\" ", "mass_max = \"80000 lb\" ", "mass_max: is given twice: as mass_max and as mass_max_kg"},
		{"unloaded", `load = "12000 lb"`, `load = "0 lb"`, "load = \"0 lb\"", `truck.axle[0].load: "0 lb": not a positive mass`},
		{"loads don't add up", `load = "12000 lb"`, `load = "16000 lb"`, "[class.truck]", "the groups carry 84,000 lb, the class's upper mass is 80,000 lb"},
		{"more empty than loaded", `empty = "10803 lb"`, `empty = "13000 lb"`, "empty = ", `empty = "13000 lb": 13,000 lb empty, 12,000 lb loaded`},
		{"fast", `speed_max = "65 mph"`, `speed_max = "650 mph"`, "speed_max", `speed_max = "650 mph": 650 mph is impossible; give a figure between 11.18 mph and 89.48 mph`},
		{"long stroke", `adjusted_stroke = "2 in"`, `adjusted_stroke = "2.75 in"`, "adjusted_stroke", `adjusted_stroke = "2.75 in": 2.75 in is past the chamber's rated stroke of 2.5 in`},
		{"small area", `drag_area = "53.8 ft2"`, `drag_area = "5.38 ft2"`, "drag_area", "5.38 ft2 is impossible; give a figure between 10.76 ft2 and 161.5 ft2"},
		{"high", `altitude_full = "4921 ft"`, `altitude_full = "49210 ft"`, "altitude_full", "give a figure between 0 ft and 19,685 ft"},
		{"watts as horsepower", "[1100, 151.5]", "[1100, 0.15]", "power_hp_by_rpm", "power_hp_by_rpm: stage 3: 0.15 hp at 1100 rpm"},
		{"one point at the lowest speed", "power_hp_by_rpm = [[1100, 151.5], [1300, 203.2], [1500, 260.8], [1700, 324.5], [1900, 394.9], [2100, 470.7]]", "power_hp_by_rpm = [[1100, 151.5]]", "power_hp_by_rpm", "the one point of a data sheet is enough where engine_rpm_min is given and is lower"},
		{"two curves", "power_hp_by_rpm = [[1100", "power_kw_by_rpm = [[1100, 1], [2100, 2]]\npower_hp_by_rpm = [[1100", "power_hp_by_rpm = [[1100", "power_hp_by_rpm: is given in two units"},
		{"tyre", "tyre_revs_per_mi = 512 ", "tyre_revs_per_mi = 51.2 ", "tyre_revs_per_mi", "truck.tyre_revs_per_mi: 51.2 is impossible; give a figure between 321 and 1024"},
	} {
		whole := Template(catalog.US)
		if !strings.Contains(whole, c.old) {
			t.Errorf("%s: the template has no %q", c.name, c.old)
			continue
		}
		text := strings.Replace(whole, c.old, c.new, 1)
		_, _, err := ParseClasses("trucks.toml", strings.NewReader(text))
		var faults Faults
		if !errors.As(err, &faults) {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		line, found := "line "+itoa(lineOf(text, c.at)), false
		for _, f := range faults {
			found = found || f.Feature == line && strings.Contains(f.Error(), c.want)
		}
		if !found {
			t.Errorf("%s: want %s and %q in\n%v", c.name, line, c.want, faults.Unwrap())
		}
	}
}

// A value of the wrong kind is told in the words of the file, not of the program.
func TestAValueOfTheWrongKind(t *testing.T) {
	for line, want := range map[string]string{
		"mass_max = 80000":         "mass_max: a bare integer where a text in quotes belongs; write a quantity with its unit",
		"mass_max = 36.3":          "mass_max: a bare float where a text in quotes belongs",
		`mass_max_kg = "80000 lb"`: "mass_max_kg: a string where a bare number belongs; write the number in the unit at the end of the key",
		"mass_max_kg = [1, 2]":     "mass_max_kg: a",
		"mass_max = 80000 lb":      "correct the TOML",
	} {
		_, _, err := ParseClasses("trucks.toml", strings.NewReader("[[class]]\nid = \"a\"\n"+line+"\n"))
		if err == nil || !strings.Contains(err.Error(), want) || strings.Contains(err.Error(), "TOML integer into") || strings.Contains(err.Error(), "classTOML") {
			t.Errorf("%s: %v", line, err)
		}
	}
}
