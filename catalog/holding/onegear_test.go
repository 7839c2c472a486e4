package holding

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

// What is said of one gear higher never claims a hold over the whole retarder:
// the demand over every 200 m, its bound added, is worked out again from the
// figures that classes publish, with the test's own code.
func TestOneGearUpClaimsNoHoldOverTheWholeRetarder(t *testing.T) {
	over, under := 0, 0
	checkUntil(t, func() bool { return over >= 10 && under >= 3 }, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, true), genOptions(t, c)
		o.TempC = nil
		p, err := newProblem(&h, &c, o)
		if err != nil {
			t.Fatal(err)
		}
		gear := rapid.IntRange(1, c.Truck.GearCount()-1).Draw(t, "gear")
		low, high := c.Truck.SpeedFromRPM(gear+1, c.Truck.EngineMinRPM), c.Truck.SpeedFromRPM(gear, c.Truck.EngineMaxRPM)
		if low*1.002 >= high {
			return
		}
		v := rapid.Float64Range(low*1.001, high).Draw(t, "speed")
		up := p.oneGearUp(gear, v)
		words := up.Words(c.Units)
		ratio, use := c.Truck.GearRatios[gear], 0.0
		for at := 0.0; at+200 <= h.LengthM(); at += 3.7 {
			z0, z1 := heightAt(h, at), heightAt(h, at+200)
			demand := demandW(c.View(), p.massKg, (z0-z1)/2+math.Max(h.LocalErrPct, h.GradeErrPct), z0, v)
			use = math.Max(use, demand/haveW(c.View(), ratio, v, z0, slices.Max(h.ElevationM)))
		}
		said := strings.Contains(words, "holds only by")
		if use > 1.003 {
			over++
			if said || !strings.Contains(words, "does not hold") {
				t.Fatalf("%.1f %% of the retarder in the next gear, told: %s", 100*use, words)
			}
		}
		if said {
			under++
			var pct float64
			if _, err := fmt.Sscanf(words[strings.Index(words, "only by"):], "only by %f", &pct); err != nil || pct > 100 {
				t.Fatalf("%s (%v)", words, err)
			}
		}
	})
}

// A hill of one grade whose bound over 200 m is wide and over the whole is not:
// the next gear is told by the wide one, as the advice is.
func TestOneGearUpUsesTheLocalBound(t *testing.T) {
	tried := 0
	for pct := 4.0; pct < 9; pct += 0.1 {
		h := PlainHill(pct, 5000)
		h.LocalErrPct, h.GradeErrPct = 1, 0.1
		exact := PlainHill(pct+1, 5000)
		c := mustClass(t, "us-dump-3axle")
		a, b := advise(t, h, c, Options{}), advise(t, exact, c, Options{})
		if a.Gear != b.Gear || a.SpeedMPS != b.SpeedMPS {
			t.Fatalf("%.1f %%: the bound and a grade of as much differ", pct)
		}
		tried++
		if a.OneGearUp != b.OneGearUp {
			t.Errorf("%.1f %%: with its bound %q, on a grade of as much %q", pct, a.OneGearUp, b.OneGearUp)
		}
	}
	if tried < 40 {
		t.Errorf("%d grades tried", tried)
	}
}

// Not held by grip: the words name the friction needed and what may be used, and
// offer no temperature of the service brakes as a way out.
func TestWordsWhenTheWheelsCannotGrip(t *testing.T) {
	h := advise(t, PlainHill(13, 3000), mustClass(t, "ca-btrain"), Options{})
	for _, w := range []string{h.Words.US, h.Words.Metric} {
		for _, want := range []string{"The driven wheels cannot grip enough", "even on a dry road", fmt.Sprintf("%.2f", math.Ceil(h.FrictionNeeded*100-1e-9)/100), fmt.Sprintf("%.2f", math.Floor(vehicle.DryFriction()*100+1e-9)/100), "Do not"} {
			if !strings.Contains(w, want) {
				t.Errorf("lacks %q: %s", want, w)
			}
		}
		if strings.Contains(w, "°") {
			t.Errorf("a temperature as if it were a way out: %s", w)
		}
	}
}

// A friction needed is told rounded up, the same in the words and the caution.
func TestFrictionNeededIsRoundedUpEverywhere(t *testing.T) {
	tried := 0
	for pct := 8.0; pct < 14; pct += 0.13 {
		h := advise(t, PlainHill(pct, 3000), mustClass(t, "ca-btrain"), Options{})
		if len(h.SurfacesOut) == 0 {
			continue
		}
		tried++
		want := fmt.Sprintf("need a friction of %.2f", math.Ceil(math.Max(h.FrictionNeeded, h.FrictionApplied)*100-1e-9)/100)
		if all := strings.Join(h.Cautions, "\n"); !strings.Contains(all, want) {
			t.Errorf("%.2f %%: needs %.4f: %s", pct, h.FrictionNeeded, all)
		}
	}
	if tried < 20 {
		t.Errorf("%d hills tried", tried)
	}
}

// A temperature within the working range is no reason against a hill: then the
// reason is that service brakes must stay cold.
func TestWordsWhenServiceBrakesWouldStayCool(t *testing.T) {
	cool, hot := 0, 0
	for _, lengthM := range []float64{400, 900, 5000} {
		c := mustClass(t, "us-5axle")
		c.Truck.Retarders = []vehicle.Retarder{{Kind: vehicle.EngineRetarder, Stages: []vehicle.Curve{{{RPM: 1000, PowerW: 4000}, {RPM: 2100, PowerW: 12000}}}}}
		h := advise(t, PlainHill(8, lengthM), c, Options{})
		if h.Holds || h.ServiceBrakeTempC == nil {
			t.Fatalf("%.0f m: %+v", lengthM, h)
		}
		if *h.ServiceBrakeTempC <= vehicle.WorkingToC {
			cool++
			if strings.Contains(h.Words.Metric, "°") || !strings.Contains(h.Words.Metric, "must stay cold for the emergency, so it does not take this hill") {
				t.Errorf("at %.0f °C: %s", *h.ServiceBrakeTempC, h.Words.Metric)
			}
			continue
		}
		hot++
		if !strings.Contains(h.Words.Metric, "°C") {
			t.Errorf("at %.0f °C: %s", *h.ServiceBrakeTempC, h.Words.Metric)
		}
	}
	if cool == 0 || hot == 0 {
		t.Errorf("%d cool, %d hot", cool, hot)
	}
}

// One gear higher where a curve sets the speed: what leaves the reserve is not called a use of it.
func TestOneGearUpThatLeavesTheReserve(t *testing.T) {
	h := PlainHill(6, 5000)
	h.RadiusM = []float64{60, 60}
	outcomes := map[string]int{}
	for _, id := range []string{"eu-5axle", "eu-6axle-44t", "us-5axle", "us-5axle-60k", "ca-tridem"} {
		a := advise(t, h, mustClass(t, id), Options{})
		if a.GearUp == nil {
			continue
		}
		outcomes[a.GearUp.Outcome]++
		leaves := a.GearUp.RetarderUsePct <= 100-a.ReservePct
		if o := a.GearUp.Outcome; o == catalog.GearUpHolds && !leaves || o == catalog.GearUpReserve && leaves {
			t.Errorf("%s: %s with %.0f %% in use and %.0f %% in reserve", id, o, a.GearUp.RetarderUsePct, a.ReservePct)
		}
	}
	if outcomes[catalog.GearUpHolds] == 0 {
		t.Errorf("no such case: %v", outcomes)
	}
}
