package resurvey

import (
	"testing"

	"gradeline/catalog"
	"gradeline/routes"
)

// One thing changed at a time says which of two surveys of a hill is the harder, and the
// other way round says the opposite.
func TestIsHarder(t *testing.T) {
	const class = "heavy"
	hill := func() *catalog.Entry {
		return &catalog.Entry{
			Descent: routes.Descent{MeanDowngradePct: 6, MeanDowngradeErrPct: 0.2, Steepest500Pct: 7, LengthM: 4000, DropM: 240},
			Holds:   []catalog.Hold{{Class: class, Holds: true, Gear: 5, SpeedMPS: 8, SurfacesOut: []string{"ice"}}},
		}
	}
	for name, change := range map[string]func(e *catalog.Entry){
		"not held":              func(e *catalog.Entry) { e.Holds[0].Holds = false },
		"no advice":             func(e *catalog.Entry) { e.Holds = nil },
		"slower":                func(e *catalog.Entry) { e.Holds[0].SpeedMPS = 7.9 },
		"one surface more":      func(e *catalog.Entry) { e.Holds[0].SurfacesOut = []string{"packed snow", "ice"} },
		"steeper":               func(e *catalog.Entry) { e.Descent.MeanDowngradePct = 6.1 },
		"steeper in its bound":  func(e *catalog.Entry) { e.Descent.MeanDowngradeErrPct = 0.3 },
		"steeper over 500 m":    func(e *catalog.Entry) { e.Descent.Steepest500Pct = 7.1 },
		"longer":                func(e *catalog.Entry) { e.Descent.LengthM = 4001 },
		"deeper":                func(e *catalog.Entry) { e.Descent.DropM = 241 },
		"slower but gentler":    func(e *catalog.Entry) { e.Holds[0].SpeedMPS = 7; e.Descent.MeanDowngradePct = 5 },
		"not held, but shorter": func(e *catalog.Entry) { e.Holds[0].Holds = false; e.Descent.LengthM = 3000 },
	} {
		a, b := hill(), hill()
		change(a)
		if !IsHarder(a, b, class) {
			t.Errorf("%s: not the harder", name)
		}
		if name != "slower but gentler" && name != "not held, but shorter" {
			if IsHarder(b, a, class) {
				t.Errorf("%s: both are the harder", name)
			}
		}
	}
	if IsHarder(hill(), hill(), class) {
		t.Error("a hill is harder than itself")
	}
	none, notHeld := hill(), hill()
	none.Holds, notHeld.Holds[0].Holds = nil, false
	if !IsHarder(notHeld, none, class) || IsHarder(none, notHeld, class) {
		t.Error("not held is harder than no advice")
	}
}
