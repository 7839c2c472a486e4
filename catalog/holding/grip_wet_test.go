package holding

import (
	"math"
	"strings"
	"testing"

	"gradeline/catalog"
)

// By hand: the stage of us-5axle's advice puts F on the driven tandem, which carries 5.9 t of the
// empty truck's 15 t and 15.4 t of the full one's 36.3 t, in between by a straight line. On a wet
// road two thirds of .35 may be used, so the load must be F/(.2333·g·cos θ). Advice for that
// mass is no longer for a dry road only at the same gear and speed, and a tonne less is.
func TestWetIsAllowedFromAMass(t *testing.T) {
	c := mustClass(t, "us-5axle")
	said := 0
	for _, pct := range []float64{3, 4, 5, 6} {
		h := advise(t, PlainHill(pct, 5000), c, Options{})
		if !h.IsDryRoadOnly() {
			continue
		}
		cos := math.Cos(math.Atan(pct / 100))
		loadAt := func(kg float64) float64 { return 5900 + (kg-15000)/(36287.39-15000)*(15422-5900) }
		forceN := h.FrictionApplied * loadAt(h.MassLightKg) * 9.80665 * cos
		wantKg := 15000 + (forceN/(0.35*2/3*9.80665*cos)-5900)/(15422-5900)*(36287.39-15000)
		words := strings.Join(h.Cautions, " ")
		if wantKg > h.MassKg {
			if strings.Contains(words, "On a wet road only") {
				t.Errorf("%g %%: %s", pct, words)
			}
			continue
		}
		said++
		if want := "On a wet road only a truck of at least " + catalog.US.MassUp(wantKg); !strings.Contains(words, want) && !strings.Contains(words, "On a wet road only a truck of at least "+catalog.US.MassUp(wantKg+2)) {
			t.Errorf("%g %%: nothing says %q: %s", pct, want, words)
		}
		for kg, isDry := range map[float64]bool{wantKg + 100: false, wantKg - 1000: true} {
			one := advise(t, PlainHill(pct, 5000), c, Options{MassKg: kg})
			if one.Gear == h.Gear && one.SpeedMPS == h.SpeedMPS && one.IsDryRoadOnly() != isDry {
				t.Errorf("%g %%, %.0f kg: dry road only %v", pct, kg, one.IsDryRoadOnly())
			}
		}
	}
	if said == 0 {
		t.Error("no grade has such a mass: nothing was compared")
	}
}
