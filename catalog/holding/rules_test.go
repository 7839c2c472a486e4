package holding

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gradeline/routes"
)

// Advice that has changed for the same truck on the same hill puts every stored hold in question:
// the number of the rules goes up with it. The sum is of this package's own answers and says nothing
// about their truth; the other tests do.
func TestAdviceRulesAreNumbered(t *testing.T) {
	const rules, sum = 9, "c9d8da23aac1"
	classes, err := DefaultClasses()
	if err != nil {
		t.Fatal(err)
	}
	inVoid := windowed()
	for i := 400; i < 440; i++ {
		inVoid.State[i] = routes.InVoid
	}
	driven := windowed()
	driven.CellM = 90
	hills := []Hill{longHill(), hillBetween(driven, 1000, 7000), hillBetween(windowed(), 1000, 7000), hillBetween(windowed(), 5000, 8000), hillBetween(inVoid, 1000, 7000)}
	for seed := uint64(1); seed <= 6; seed++ {
		rng := rand.New(rand.NewPCG(seed, 2026))
		_, recovered := surveyed(rng, 0.79)
		hills = append(hills, drawnCurves(rng), recovered)
	}
	cold, hot := -20.0, 45.0
	var all strings.Builder
	held := 0
	for k, h := range hills {
		for i := range classes {
			for _, o := range []Options{{Weather: UsualWeather()}, {TempC: &cold}, {TempC: &hot, StopAtFoot: true}} {
				a, err := Advise(h, classes[i], o)
				if err != nil {
					t.Fatal(err)
				}
				if a.Holds {
					held++
				}
				fmt.Fprintln(&all, k, a.Class, a.Holds, a.Gear, a.Stage, classes[i].Units.WholeSpeed(a.SpeedMPS), a.LimitedBy, a.SurfacesOut,
					math.Round(a.GearByM/10), math.Round(a.SlowFromM/10), math.Round(a.MassLightKg/100), classes[i].Units.WholeSpeed(a.SpeedLowMPS))
				if a.RecoverySpeedMPS != nil {
					fmt.Fprintln(&all, math.Round(*a.RecoverySpeedMPS))
				}
				for _, s := range a.Stretches {
					fmt.Fprintln(&all, math.Round(s.FromM/10), s.Gear, s.Levers, classes[i].Units.WholeSpeed(s.SpeedMPS))
				}
			}
		}
	}
	if held < 50 {
		t.Fatalf("only %d answers are held", held)
	}
	got := sha256.Sum256([]byte(all.String()))
	if s := hex.EncodeToString(got[:6]); s != sum {
		t.Errorf("advice has changed: its sum is %s, not %s; raise adviceRules in package vehicle and both figures here", s, sum)
	}
	if mark := classes[0].AdviceMark(); !strings.HasPrefix(mark, fmt.Sprint(rules, ":")) {
		t.Errorf("the mark %s is not of rules %d", mark, rules)
	}
}
