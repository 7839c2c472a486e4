package holding

import (
	"encoding/json"
	"math"
	"testing"

	"pgregory.net/rapid"

	"gradeline/catalog"
	"gradeline/catalog/vehicle"
)

func TestHeavierIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		a := advise(t, h, c, o)
		o.MassKg = rapid.Float64Range(o.MassKg, c.MassMaxKg).Draw(t, "heavier")
		slower(t, "heavier", a, advise(t, h, c, o))
	})
}

func TestSteeperIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, false)
		o := genOptions(t, c)
		a := advise(t, h, c, o)
		s := h
		s.DowngradePct = append([]float64{}, h.DowngradePct...)
		for i := range s.DowngradePct {
			s.DowngradePct[i] += rapid.Float64Range(0, 2).Draw(t, "steeper")
		}
		slower(t, "steeper", a, advise(t, s, c, o))
		b := h
		b.LocalErrPct += 0.5
		slower(t, "less certain", a, advise(t, b, c, o))
	})
}

func TestLongerIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		h.RadiusM = nil
		o := genOptions(t, c)
		// Cut below some node: the whole is never faster than the part above it.
		if n := len(h.DowngradePct); n > 1 {
			k := rapid.IntRange(1, n-1).Draw(t, "cut")
			part := h
			part.StationM, part.DowngradePct, part.ElevationM = h.StationM[:k+1], h.DowngradePct[:k], h.ElevationM[:k+1]
			// A part under 200 m is judged over its own length, the whole is not.
			if part.LengthM() >= WindowM {
				slower(t, "longer", advise(t, part, c, o), advise(t, h, c, o))
			}
		}
		g, m := rapid.Float64Range(1, 12).Draw(t, "plain grade"), rapid.Float64Range(100, 20000).Draw(t, "plain length")
		slower(t, "longer plain", advise(t, PlainHill(g, m), c, o), advise(t, PlainHill(g, 2*m), c, o))
	})
}

func TestHigherIsNeverFaster(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		o := genOptions(t, c)
		a := advise(t, h, c, o)
		up := rapid.Float64Range(0, 1400).Draw(t, "higher")
		b := h
		b.ElevationM = append([]float64{}, h.ElevationM...)
		for i := range b.ElevationM {
			b.ElevationM[i] += up
		}
		slower(t, "higher", a, advise(t, b, c, o))
	})
}

func TestMoreRetarderIsNeverSlower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, rapid.Bool().Draw(t, "heights"))
		o := genOptions(t, c)
		b := advise(t, h, c, o)
		more := c
		more.Truck.Retarders = nil
		for _, r := range c.Truck.Retarders {
			k := rapid.Float64Range(1, 1.5).Draw(t, "more")
			var stages []vehicle.Curve
			for _, s := range r.Stages {
				stages = append(stages, s.Scaled(k))
			}
			r.Stages, r.TorqueLimitNm, r.SustainedPowerW = stages, r.TorqueLimitNm*k, r.SustainedPowerW*k
			more.Truck.Retarders = append(more.Truck.Retarders, r)
		}
		slower(t, "less retarder", advise(t, h, more, o), b)
		o.ReservePct = math.Min(60, c.Truck.ReservePct+10)
		slower(t, "more reserve", b, advise(t, h, c, o))
	})
}

func TestSplittingAHillChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		o := genOptions(t, c)
		h := genHill(t, false)
		h.RadiusM = nil
		s := h
		s.StationM, s.DowngradePct = []float64{0}, nil
		for i, g := range h.DowngradePct {
			at := h.StationM[i] + rapid.Float64Range(0.2, 0.8).Draw(t, "at")*(h.StationM[i+1]-h.StationM[i])
			s.StationM = append(s.StationM, at, h.StationM[i+1])
			s.DowngradePct = append(s.DowngradePct, g, g)
		}
		a, b := advise(t, h, c, o), advise(t, s, c, o)
		if a.SpeedMPS != b.SpeedMPS || a.Gear != b.Gear || a.Holds != b.Holds || math.Abs(a.HeaviestMassKg-b.HeaviestMassKg) > 0.01 {
			t.Fatalf("gear %d %.3f m/s %.3f kg, split: gear %d %.3f m/s %.3f kg", a.Gear, a.SpeedMPS, a.HeaviestMassKg, b.Gear, b.SpeedMPS, b.HeaviestMassKg)
		}
	})
}

// The advice is what it says: a whole speed, in the band, within the reserve,
// under every ceiling, in the highest gear, at no more than the heaviest mass.
func TestAdviceKeepsItsOwnRules(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, rapid.Bool().Draw(t, "heights")), genOptions(t, c)
		a := advise(t, h, c, o)
		if _, err := json.Marshal(a); err != nil {
			t.Fatalf("no JSON: %v in %+v", err, a)
		}
		if a.Words.US == "" || a.Words.Metric == "" || a.LimitedBy == "" || len(a.Sensitivity) < 5 || len(a.Gears) != len(c.Truck.GearRatios) {
			t.Fatalf("incomplete: %+v", a)
		}
		if a.LimitedBy != catalog.LimitFriction && a.Holds != (a.HeaviestMassKg >= a.MassKg) {
			t.Fatalf("holds %v at %.1f kg, heaviest %.1f kg", a.Holds, a.MassKg, a.HeaviestMassKg)
		}
		if !a.Holds {
			if a.Gear != 0 || a.SpeedMPS != 0 || a.Stage != 0 || a.ServiceBrakeTempC == nil || a.MissingPowerW < 0 {
				t.Fatalf("not held, yet %+v", a)
			}
			return
		}
		whole := a.SpeedMPS / c.Units.SpeedUnitMPS()
		if math.Abs(whole-math.Round(whole)) > 1e-9 {
			t.Fatalf("%.6f is no whole speed", whole)
		}
		if a.EngineRPM < c.Truck.EngineMinRPM*(1-1e-6) || a.EngineRPM > c.Truck.EngineMaxRPM*(1+1e-6) {
			t.Fatalf("%.0f rpm outside the band", a.EngineRPM)
		}
		limitPct := 100 - a.ReservePct // as recovered; at the steep end of a bound half of the reserve may be used
		if len(h.Windows) > 0 {
			limitPct = 100 - a.ReservePct*reserveAtBound
		}
		if a.RetarderUsePct > limitPct+1e-9 || a.DemandPowerW > a.AvailablePowerW*(1+1e-9) {
			t.Fatalf("%.2f %% of the retarder, reserve %.2f %%", a.RetarderUsePct, a.ReservePct)
		}
		for _, l := range a.Limits {
			if a.SpeedMPS > l.SpeedMPS*(1+1e-6) {
				t.Fatalf("%.3f m/s over %s at %.3f", a.SpeedMPS, l.Reason, l.SpeedMPS)
			}
		}
		p, err := newProblem(&h, &c, o)
		if err != nil {
			t.Fatal(err)
		}
		// No other gear that holds it has a better engine speed, fewer surfaces excluded or
		// a larger reserve.
		wholeSpeed := int(math.Round(a.SpeedMPS / p.units.SpeedUnitMPS()))
		chosen, _ := p.choose(a.Gear, wholeSpeed)
		for g := 1; g <= len(c.Truck.GearRatios); g++ {
			if p.heaviestKg(g, a.SpeedMPS) < a.MassKg {
				continue
			}
			if other, grips := p.choose(g, wholeSpeed); grips && other.isBetter(&chosen) {
				t.Fatalf("advised gear %d, gear %d is better: %+v, %+v", a.Gear, g, chosen, other)
			}
		}
		best := 0.0
		for _, g := range a.Gears {
			best = math.Max(best, g.SpeedMPS)
		}
		if best != a.SpeedMPS {
			t.Fatalf("a gear holds %.3f m/s, advised %.3f", best, a.SpeedMPS)
		}
	})
}

// Only the hardest stretches are kept, and no other could change an answer: the
// heaviest mass of a gear and speed over all spans is the kept ones', which may
// count the air a little thinner where the road climbs again further on.
func TestKeptStretchesAreTheHardest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h := genHill(t, true)
		o := Options{}
		p, err := newProblem(&h, &c, o)
		if err != nil {
			t.Fatal(err)
		}
		all := *p
		all.long, all.short = nil, nil
		for _, s := range withAir(inOrder(windowSpans(&h, PlainAltitudeM)[0], spansOf(&h, partM, PlainAltitudeM, nil)), nil) {
			all.long = append(all.long, forceOf(s, 0, &c.Truck))
		}
		for _, s := range withAir(spansOf(&h, pitchM, PlainAltitudeM, nil), nil) {
			all.short = append(all.short, forceOf(s, 0, &c.Truck))
		}
		for gear := 1; gear <= len(c.Truck.GearRatios); gear++ {
			for _, share := range []float64{0.5, 0.75, 1} {
				v := c.Truck.SpeedFromRPM(gear, c.Truck.EngineMinRPM+share*(c.Truck.EngineMaxRPM-c.Truck.EngineMinRPM))
				kept, whole := p.heaviestKg(gear, v), all.heaviestKg(gear, v)
				if kept > whole*(1+1e-12) || kept < whole*0.985 {
					t.Fatalf("gear %d at %.2f m/s: %.3f kg by the kept stretches, %.3f kg by all", gear, v, kept, whole)
				}
			}
		}
		if len(p.long) > len(all.long) || len(p.short) > len(all.short) {
			t.Fatal("more kept than there are")
		}
	})
}

// At the heaviest mass it holds, a gram more it doesn't.
func TestHeaviestMassIsTheEdge(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := genClass(t)
		h, o := genHill(t, false), genOptions(t, c)
		a := advise(t, h, c, o)
		if a.HeaviestMassKg >= c.MassMaxKg || a.HeaviestMassKg < 1000 {
			return // the class can't be loaded so, or no mass holds
		}
		o.MassKg = a.HeaviestMassKg
		if b := advise(t, h, c, o); !b.Holds && b.LimitedBy != catalog.LimitFriction {
			t.Fatalf("%.3f kg is said to hold and doesn't", o.MassKg)
		}
		o.MassKg += 0.01
		if o.MassKg <= c.MassMaxKg && advise(t, h, c, o).Holds {
			t.Fatalf("%.3f kg holds, heaviest was %.3f", o.MassKg, a.HeaviestMassKg)
		}
	})
}
