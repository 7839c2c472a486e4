package vehicle

import (
	"strings"
	"testing"

	"gradeline/catalog"
)

// Every figure that a hold depends on puts it in question when it changes; a name and a
// source don't.
func TestAChangedTruckMakesItsHoldsStale(t *testing.T) {
	classes, _, err := ParseClasses("template", strings.NewReader(Template(catalog.Metric)))
	if err != nil {
		t.Fatal(err)
	}
	h := catalog.Hold{Class: classes[0].ID, ClassFigures: classes[0].AdviceMark()}
	if why := WhyStale(&h, classes); why != "" {
		t.Errorf("as it was made: %s", why)
	}
	renamed := classes[0]
	renamed.Name, renamed.Sources = "another name", nil
	if why := WhyStale(&h, []Class{renamed}); why != "" {
		t.Errorf("renamed: %s", why)
	}
	for name, change := range map[string]func(c *Class){
		"mass":            func(c *Class) { c.MassMaxKg *= 1.001 },
		"lightest mass":   func(c *Class) { c.MassMinKg *= 1.001 },
		"units":           func(c *Class) { c.Units = catalog.Metric },
		"rollover":        func(c *Class) { c.RolloverShare *= 1.001 },
		"ratio":           func(c *Class) { c.Truck.GearRatios[3] *= 1.001 },
		"gear name":       func(c *Class) { c.Truck.GearNames[3] = "X" },
		"empty axle load": func(c *Class) { c.Truck.Axles[1].EmptyKg++ },
		"brake count":     func(c *Class) { c.Truck.ServiceBrakes.Count-- },
		"chamber":         func(c *Class) { c.Truck.ServiceBrakes.Chamber = "30L" },
		"first stage":     func(c *Class) { c.Truck.Retarders[0].Stages[0][0].PowerW++ },
		"strongest":       func(c *Class) { c.Truck.Retarders[0].StrongestPct++ },
		"reserve":         func(c *Class) { c.Truck.ReservePct++ },
	} {
		again, _, err := ParseClasses("template", strings.NewReader(Template(catalog.Metric)))
		if err != nil {
			t.Fatal(err)
		}
		change(&again[0])
		if WhyStale(&h, again) == "" {
			t.Errorf("another %s: the hold is taken as current", name)
		}
	}
	for _, mark := range []string{classes[0].Fingerprint(), "1:" + classes[0].Fingerprint(), "3:" + classes[0].Fingerprint()} {
		if why := WhyStale(&catalog.Hold{Class: classes[0].ID, ClassFigures: mark}, classes); !strings.Contains(why, "other rules") {
			t.Errorf("advice under the rules of %s: %q", mark, why)
		}
	}
	old := catalog.Hold{Class: classes[0].ID}
	if WhyStale(&old, classes) == "" || WhyStale(&catalog.Hold{Class: "someone-else"}, classes) != "" {
		t.Error("a hold without figures is taken as current, or a class that is not named is judged")
	}
}
